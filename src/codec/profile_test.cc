// Profiles against LittleCMS used directly, and our embedded profiles against the published spaces.
#include "codec/profile.h"

#include <gtest/gtest.h>
#include <lcms2.h>

#include <cmath>
#include <cstring>
#include <random>

#include "codec/testing.h"
#include "color/adapt.h"

namespace samelight::codec {
namespace {

using Bytes = std::vector<std::uint8_t>;

Bytes Save(cmsHPROFILE profile) {
  cmsUInt32Number size = 0;
  cmsSaveProfileToMem(profile, nullptr, &size);
  Bytes bytes(size);
  cmsSaveProfileToMem(profile, bytes.data(), &size);
  cmsCloseProfile(profile);
  return bytes;
}

Bytes MatrixProfile() {  // Display P3's primaries with three different curves
  const cmsCIExyY white = {0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries = {{0.680, 0.320, 1}, {0.265, 0.690, 1}, {0.150, 0.060, 1}};
  const double srgb[5] = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  cmsToneCurve* curves[3] = {cmsBuildGamma(nullptr, 2.2), cmsBuildGamma(nullptr, 1.8),
                             cmsBuildParametricToneCurve(nullptr, 4, srgb)};
  Bytes bytes = Save(cmsCreateRGBProfile(&white, &primaries, curves));
  cmsFreeToneCurveTriple(curves);
  return bytes;
}

Bytes GreyProfile(double gamma) {
  cmsToneCurve* curve = cmsBuildGamma(nullptr, gamma);
  Bytes bytes = Save(cmsCreateGrayProfile(cmsD50_xyY(), curve));
  cmsFreeToneCurve(curve);
  return bytes;
}

// A table profile as a scanner's software makes them: device to Lab through a grid.
Bytes TableProfile(cmsColorSpaceSignature space, int channels) {
  cmsHPROFILE profile = cmsCreateProfilePlaceholder(nullptr);
  cmsSetDeviceClass(profile, space == cmsSigRgbData ? cmsSigInputClass : cmsSigOutputClass);
  cmsSetColorSpace(profile, space);
  cmsSetPCS(profile, cmsSigLabData);
  cmsSetProfileVersion(profile, 4.3);
  cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, static_cast<cmsUInt32Number>(channels), 3);
  cmsStage* grid = cmsStageAllocCLut16bit(nullptr, 9, static_cast<cmsUInt32Number>(channels), 3, nullptr);
  cmsStageSampleCLut16bit(
      grid,
      [](const cmsUInt16Number in[], cmsUInt16Number out[], void* kind) {
        double v[4];
        for (int i = 0; i < 4; ++i) v[i] = i < *static_cast<int*>(kind) ? in[i] / 65535.0 : 0;
        if (*static_cast<int*>(kind) == 4)
          for (int i = 0; i < 3; ++i) v[i] = (1 - v[i]) * (1 - 0.9 * v[3]);
        const double light = 0.3 * v[0] + 0.6 * v[1] + 0.1 * v[2];
        const cmsCIELab lab = {100 * std::pow(light, 0.6), 70 * (v[0] - v[1]),
                               60 * (0.5 * (v[0] + v[1]) - v[2])};
        cmsFloat2LabEncoded(out, &lab);
        return 1;
      },
      &channels, 0);
  // The v4 type stores curves on both sides of the grid.
  cmsPipelineInsertStage(pipeline, cmsAT_END,
                         cmsStageAllocToneCurves(nullptr, static_cast<cmsUInt32Number>(channels), nullptr));
  cmsPipelineInsertStage(pipeline, cmsAT_END, grid);
  cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));
  cmsWriteTag(profile, cmsSigAToB0Tag, pipeline);
  cmsWriteTag(profile, cmsSigAToB1Tag, pipeline);
  cmsPipelineFree(pipeline);
  cmsWriteTag(profile, cmsSigMediaWhitePointTag, cmsD50_XYZ());
  return Save(profile);
}

// The same by LittleCMS straight to XYZ in double precision, then to D65 (Bradford) and BT.2020 by src/color.
std::vector<Vec3> ByLittleCms(const Bytes& icc, cmsUInt32Number type, const void* samples,
                              std::size_t count) {
  cmsHPROFILE in = cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size()));
  cmsHPROFILE xyz = cmsCreateXYZProfile();
  cmsHTRANSFORM transform = cmsCreateTransform(in, type, xyz, TYPE_XYZ_DBL, INTENT_RELATIVE_COLORIMETRIC,
                                               cmsFLAGS_NOCACHE | cmsFLAGS_NOOPTIMIZE);
  std::vector<Vec3> out(count);
  cmsDoTransform(transform, samples, out.data(), static_cast<cmsUInt32Number>(count));
  cmsDeleteTransform(transform);
  cmsCloseProfile(in);
  cmsCloseProfile(xyz);
  const Mat3 to_d65 =
      color::Adaptation({0.9642, 1, 0.8249}, color::XyzFromXy(color::kD65), color::AdaptMethod::kBradford);
  const Mat3 m = Mul(color::RgbFromXyz(color::Space::kRec2020), to_d65);
  for (Vec3& v : out) v = Mul(m, v);
  return out;
}

void ExpectSame(const Bytes& icc, int channels, Depth depth, double bound) {
  constexpr std::size_t kCount = 4000;
  std::mt19937 random(3);
  std::uniform_real_distribution<double> uniform(0, 1);
  const RowLayout layout{static_cast<int>(kCount), 1, channels, depth};
  const auto n = static_cast<std::size_t>(channels);
  std::vector<std::uint8_t> samples(layout.row_bytes());
  std::vector<double> values(kCount * n);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double v = i < 8 * n ? double(i / n % 2) : uniform(random);
    if (depth == Depth::k8) {
      samples[i] = static_cast<std::uint8_t>(std::lround(v * 255));
      values[i] = samples[i] / 255.0;
    } else if (depth == Depth::k16) {
      const auto word = static_cast<std::uint16_t>(std::lround(v * 65535));
      std::memcpy(&samples[2 * i], &word, 2);
      values[i] = word / 65535.0;
    } else {
      const auto real = static_cast<float>(v);
      std::memcpy(&samples[4 * i], &real, 4);
      values[i] = real;
    }
    if (channels == 4) values[i] *= 100;
  }
  const auto convert = MakeRec2020From(layout, icc, color::Space::kSrgb, false);
  EXPECT_FALSE(convert->assumed);
  std::vector<float> got(kCount * 3);
  convert->Convert(samples.data(), kCount, got.data());
  const cmsUInt32Number type = channels == 1 ? TYPE_GRAY_DBL : channels == 3 ? TYPE_RGB_DBL : TYPE_CMYK_DBL;
  const auto want = ByLittleCms(icc, type, values.data(), kCount);
  double worst = 0;
  for (std::size_t i = 0; i < kCount; ++i)
    for (std::size_t c = 0; c < 3; ++c)
      worst = std::max(worst, std::abs(double(got[3 * i + c]) - want[i][c]));
  EXPECT_LT(worst, bound) << channels << " channels, depth " << static_cast<int>(depth);
}

TEST(Profile, MatrixGreyAndTablesAgreeWithLittleCms) {
  for (const Depth depth : {Depth::k8, Depth::k16, Depth::kFloat}) {
    ExpectSame(MatrixProfile(), 3, depth, 2e-5);
    ExpectSame(GreyProfile(1.8), 1, depth, 2e-5);
    ExpectSame(TableProfile(cmsSigRgbData, 3), 3, depth, 1e-4);
    ExpectSame(TableProfile(cmsSigCmykData, 4), 4, depth, 1e-4);
  }
}

TEST(Profile, WhiteStaysNeutral) {
  for (const Bytes& icc : {MatrixProfile(), TableProfile(cmsSigRgbData, 3)}) {
    const auto convert = MakeRec2020From({1, 1, 3, Depth::k8}, icc, color::Space::kSrgb, false);
    const std::uint8_t white[3] = {255, 255, 255};
    float out[3];
    convert->Convert(white, 1, out);
    for (const float v : out) EXPECT_NEAR(v, 1, 3e-4);
  }
}

// The profiles that we embed say what the published spaces say, read back by LittleCMS.
TEST(Profile, EmbeddedProfilesAreTheSpaces) {
  for (const auto space : {color::Space::kSrgb, color::Space::kDisplayP3, color::Space::kAdobeRgb,
                           color::Space::kRec2020, color::Space::kRomm}) {
    const auto icc = ProfileOf(space);
    ASSERT_TRUE(icc.ok());
    EXPECT_EQ(*icc, *ProfileOf(space));
    const Mat3 to_rec2020 = color::RgbFromRgb(color::Space::kRec2020, space);
    std::vector<double> encoded;
    for (int r = 0; r <= 4; ++r)
      for (int g = 0; g <= 4; ++g)
        for (int b = 0; b <= 4; ++b) encoded.insert(encoded.end(), {r / 4.0, g / 4.0, b / 4.0});
    const auto got = ByLittleCms(*icc, TYPE_RGB_DBL, encoded.data(), encoded.size() / 3);
    for (std::size_t i = 0; i < got.size(); ++i) {
      Vec3 want{};
      for (std::size_t c = 0; c < 3; ++c) want[c] = color::Decode(space, encoded[3 * i + c]);
      want = Mul(to_rec2020, want);
      for (std::size_t c = 0; c < 3; ++c) EXPECT_NEAR(got[i][c], want[c], 3e-4) << color::Name(space);
    }
    const auto convert = MakeRec2020From({1, 1, 3, Depth::k8}, *icc, color::Space::kSrgb, false);
    EXPECT_EQ(convert->name, color::Name(space));
  }
}

TEST(Profile, UnusableProfilesFallBackAndSaySo) {
  Bytes damaged = MatrixProfile();
  damaged.resize(damaged.size() / 3);
  const RowLayout rgb{1, 1, 3, Depth::k8};
  for (const Bytes& icc :
       {Bytes{}, Bytes(200, 0), damaged, GreyProfile(2.2), TableProfile(cmsSigCmykData, 4)}) {
    const auto convert = MakeRec2020From(rgb, icc, color::Space::kSrgb, false);
    EXPECT_TRUE(convert->assumed);
    EXPECT_EQ(convert->name, "sRGB");
    const std::uint8_t sample[3] = {200, 100, 50};
    float out[3];
    convert->Convert(sample, 1, out);
    Vec3 want{};
    for (std::size_t c = 0; c < 3; ++c) want[c] = color::Decode(color::Space::kSrgb, sample[c] / 255.0);
    want = Mul(color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb), want);
    for (std::size_t c = 0; c < 3; ++c) EXPECT_NEAR(out[c], want[c], 1e-6);
  }
  EXPECT_FALSE(MakeRec2020From(rgb, {}, color::Space::kAdobeRgb, true)->assumed);
}

TEST(Profile, NotANumberInFloatFilesBecomesBlack) {
  const auto convert = MakeRec2020From({2, 1, 3, Depth::kFloat}, {}, color::Space::kSrgb, false);
  const float in[6] = {NAN, INFINITY, -INFINITY, 0.5f, 0.5f, 0.5f};
  float out[6];
  convert->Convert(reinterpret_cast<const std::uint8_t*>(in), 2, out);
  for (int i = 0; i < 3; ++i) EXPECT_EQ(out[i], 0);
  EXPECT_NEAR(out[4], color::Decode(color::Space::kSrgb, 0.5), 1e-6);
}

}  // namespace
}  // namespace samelight::codec
