// A second opinion: LittleCMS against the reference, and ready-made profiles of another author (Debian
// colord-data, CC0).
#include <lcms2.h>

#include <memory>
#include <random>

#include "color/adapt.h"
#include "color/difference.h"
#include "color/lab.h"
#include "color/published_test.h"
#include "color/space.h"
#include "color/temperature.h"

namespace samelight::color {
namespace {

using Profile = std::unique_ptr<void, decltype(&cmsCloseProfile)>;

Profile Own(cmsHPROFILE profile) { return Profile(profile, &cmsCloseProfile); }
cmsCIEXYZ Cms(const Vec3& v) { return {v[0], v[1], v[2]}; }
cmsCIELab CmsLab(const Vec3& v) { return {v[0], v[1], v[2]}; }
Vec3 Pcs() { return {cmsD50_XYZ()->X, cmsD50_XYZ()->Y, cmsD50_XYZ()->Z}; }

// The profile of `space` as a LittleCMS user would write it: the standard's primaries and a parametric curve.
Profile VirtualProfile(Space space) {
  const auto primary = [&](Vec3 rgb) {
    const Xy xy = XyFromXyz(Mul(XyzFromRgb(space), rgb));
    return cmsCIExyY{xy.x, xy.y, 1};
  };
  const cmsCIExyYTRIPLE primaries{primary({1, 0, 0}), primary({0, 1, 0}), primary({0, 0, 1})};
  const cmsCIExyY white{White(space).x, White(space).y, 1};
  // Type 4: (a x + b)^g from d on, c x below.
  const double srgb[5]{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  const double alpha = 1.09929682680944;
  const double bt2020[5]{1 / 0.45, 1 / alpha, (alpha - 1) / alpha, 1 / 4.5, 4.5 * 0.018053968510807};
  const double romm[5]{1.8, 1, 0, 1.0 / 16, 16.0 / 512};
  cmsToneCurve* curve = nullptr;
  switch (space) {
    case Space::kSrgb:
    case Space::kDisplayP3:
      curve = cmsBuildParametricToneCurve(nullptr, 4, srgb);
      break;
    case Space::kAdobeRgb:
      curve = cmsBuildGamma(nullptr, 563.0 / 256);
      break;
    case Space::kRec2020:
      curve = cmsBuildParametricToneCurve(nullptr, 4, bt2020);
      break;
    case Space::kRomm:
      curve = cmsBuildParametricToneCurve(nullptr, 4, romm);
      break;
  }
  cmsToneCurve* const curves[3]{curve, curve, curve};
  Profile profile = Own(cmsCreateRGBProfile(&white, &primaries, curves));
  cmsFreeToneCurve(curve);
  return profile;
}

// Largest difference in XYZ (white Y = 1) between `profile` and `space`, over a grid of encoded colours.
double MostXyzDifference(const Profile& profile, Space space) {
  const Profile xyz = Own(cmsCreateXYZProfile());
  cmsHTRANSFORM transform = cmsCreateTransform(profile.get(), TYPE_RGB_DBL, xyz.get(), TYPE_XYZ_DBL,
                                               INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
  EXPECT_NE(transform, nullptr);
  if (transform == nullptr) return 1e9;
  const Mat3 pcs_from_rgb =
      Mul(Adaptation(XyzFromXy(White(space)), Pcs(), AdaptMethod::kBradford), XyzFromRgb(space));
  double most = 0;
  for (int r = 0; r <= 10; ++r)
    for (int g = 0; g <= 10; ++g)
      for (int b = 0; b <= 10; ++b) {
        const Vec3 encoded{r / 10.0, g / 10.0, b / 10.0};
        Vec3 theirs;
        cmsDoTransform(transform, encoded.data(), theirs.data(), 1);
        const Vec3 ours = Mul(pcs_from_rgb, Vec3{Decode(space, encoded[0]), Decode(space, encoded[1]),
                                                 Decode(space, encoded[2])});
        for (int c = 0; c < 3; ++c) most = std::max(most, std::fabs(ours[c] - theirs[c]));
      }
  cmsDeleteTransform(transform);
  return most;
}

// LittleCMS keeps matrices in 16.16 fixed point and works in float: 3e-5.
TEST(LittleCms, EverySpaceAsAProfile) {
  for (int i = 0; Name(static_cast<Space>(i))[0] != 0; ++i)
    EXPECT_LT(MostXyzDifference(VirtualProfile(static_cast<Space>(i)), static_cast<Space>(i)), 3e-5)
        << Name(static_cast<Space>(i));
}

TEST(LittleCms, ItsOwnSrgb) {
  EXPECT_LT(MostXyzDifference(Own(cmsCreate_sRGBProfile()), Space::kSrgb), 1e-4);
}

// Profiles of another author. Their whites are rounded differently (5e-4), and the wide one has no straight
// part near black (4e-4 there).
TEST(LittleCms, ReadyMadeProfiles) {
  const std::pair<const char*, Space> profiles[]{
      {"sRGB", Space::kSrgb}, {"AdobeRGB1998", Space::kAdobeRgb}, {"ProPhotoRGB", Space::kRomm}};
  for (const auto& [name, space] : profiles) {
    const std::string path = std::string("/usr/share/color/icc/colord/") + name + ".icc";
    const Profile profile = Own(cmsOpenProfileFromFile(path.c_str(), "r"));
    ASSERT_NE(profile, nullptr) << path << " is missing; it is in the package colord-data";
    EXPECT_LT(MostXyzDifference(profile, space), 7e-4) << name;
  }
}

TEST(LittleCms, Lab) {
  std::mt19937 random(4);
  std::uniform_real_distribution<double> value(0, 1.2);
  for (const Vec3& white : {Pcs(), XyzFromXy(kD65)}) {
    for (int i = 0; i < 5000; ++i) {
      const Vec3 xyz{value(random), value(random) * value(random), value(random)};
      const cmsCIEXYZ cms_white = Cms(white), cms_xyz = Cms(xyz);
      cmsCIELab lab;
      cmsXYZ2Lab(&cms_white, &lab, &cms_xyz);
      const Vec3 ours = LabFromXyz(xyz, white);
      ExpectNear(ours, {lab.L, lab.a, lab.b}, 1e-9, "Lab");
      cmsCIEXYZ back;
      cmsLab2XYZ(&cms_white, &back, &lab);
      ExpectNear(XyzFromLab(ours, white), {back.X, back.Y, back.Z}, 1e-9, "XYZ");
    }
  }
}

TEST(LittleCms, Ciede2000) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> l(0, 100), ab(-100, 100), step(-5, 5);
  for (int i = 0; i < 20000; ++i) {
    const Vec3 a{l(random), ab(random), ab(random)};
    // Half of the pairs are near each other, as in use.
    const Vec3 b = i % 2 == 0 ? Vec3{l(random), ab(random), ab(random)}
                              : Vec3{a[0] + step(random), a[1] + step(random), a[2] + step(random)};
    const cmsCIELab cms_a = CmsLab(a), cms_b = CmsLab(b);
    EXPECT_NEAR(Ciede2000(a, b), cmsCIE2000DeltaE(&cms_a, &cms_b, 1, 1, 1), 1e-4)
        << a[0] << " " << a[1] << " " << a[2] << " / " << b[0] << " " << b[1] << " " << b[2];
  }
}

TEST(LittleCms, BradfordAdaptation) {
  for (const Xy from : {kD65, Xy{0.44758, 0.40745}, Xy{0.34842, 0.35161}}) {
    const cmsCIEXYZ white = Cms(XyzFromXy(from)), xyz = Cms({0.3, 0.4, 0.2});
    cmsCIEXYZ theirs;
    ASSERT_TRUE(cmsAdaptToIlluminant(&theirs, &white, cmsD50_XYZ(), &xyz));
    ExpectNear(Mul(Adaptation(XyzFromXy(from), Pcs(), AdaptMethod::kBradford), Vec3{0.3, 0.4, 0.2}),
               {theirs.X, theirs.Y, theirs.Z}, 1e-6, "adapted");
  }
}

// Its daylight formula, and its temperature of a white by Robertson's method (good to about 0.3 %).
TEST(LittleCms, DaylightAndTemperature) {
  for (double kelvin = 4000; kelvin <= 25000; kelvin *= 1.1) {
    cmsCIExyY white;
    ASSERT_TRUE(cmsWhitePointFromTemp(&white, kelvin));
    const Xy ours = DaylightXy(kelvin);
    EXPECT_NEAR(ours.x, white.x, 1e-6) << kelvin;
    EXPECT_NEAR(ours.y, white.y, 1e-6) << kelvin;
    double theirs_k = 0;
    ASSERT_TRUE(cmsTempFromWhitePoint(&theirs_k, &white));
    EXPECT_NEAR(CctDuvFromXy({white.x, white.y}).cct_k / theirs_k, 1, 3e-3) << kelvin;
  }
}

}  // namespace
}  // namespace samelight::color
