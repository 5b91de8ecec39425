#include "color/hcl.h"

#include <cmath>
#include <numbers>

#include "color/space.h"

namespace samelight::color {
namespace {

// Ottosson 2020, M1 (XYZ, D65, to cone-like response) and M2 (its cube root to Lab).
constexpr Mat3 kLmsFromXyz{{{0.8189330101, 0.3618667424, -0.1288597137},
                            {0.0329845436, 0.9293118715, 0.0361456387},
                            {0.0482003018, 0.2643662691, 0.6338517070}}};
constexpr Mat3 kOklabFromRootLms{{{0.2104542553, 0.7936177850, -0.0040720468},
                                  {1.9779984951, -2.4285922050, 0.4505937099},
                                  {0.0259040371, 0.7827717662, -0.8086757660}}};

Mat3 RowsSummingToOne(Mat3 m) {
  for (auto& row : m) {
    const double sum = row[0] + row[1] + row[2];
    for (double& value : row) value /= sum;
  }
  return m;
}

}  // namespace

const Mat3& LmsFromRec2020() {
  static const Mat3 m = RowsSummingToOne(Mul(kLmsFromXyz, XyzFromRgb(Space::kRec2020)));
  return m;
}

const Mat3& Rec2020FromLms() {
  static const Mat3 m = Inverse(LmsFromRec2020());
  return m;
}

const Mat3& OklabFromRootLms() { return kOklabFromRootLms; }

const Mat3& RootLmsFromOklab() {
  static constexpr Mat3 m = Inverse(kOklabFromRootLms);
  return m;
}

Vec3 OklabFromRec2020(const Vec3& linear) {
  const Vec3 lms = Mul(LmsFromRec2020(), linear);
  return Mul(OklabFromRootLms(), Vec3{std::cbrt(lms[0]), std::cbrt(lms[1]), std::cbrt(lms[2])});
}

Vec3 Rec2020FromOklab(const Vec3& oklab) {
  const Vec3 root = Mul(RootLmsFromOklab(), oklab);
  return Mul(Rec2020FromLms(),
             Vec3{root[0] * root[0] * root[0], root[1] * root[1] * root[1], root[2] * root[2] * root[2]});
}

Hcl HclFromOklab(const Vec3& oklab) {
  double hue = std::atan2(oklab[2], oklab[1]) * 180 / std::numbers::pi;
  if (hue < 0) hue += 360;
  if (hue >= 360) hue = 0;  // a rounding error below 0
  return {hue, std::hypot(oklab[1], oklab[2]), oklab[0]};
}

Vec3 OklabFromHcl(const Hcl& hcl) {
  const double hue = hcl.hue_deg * std::numbers::pi / 180;
  return {hcl.lightness, hcl.chroma * std::cos(hue), hcl.chroma * std::sin(hue)};
}

Hcl HclFromRec2020(const Vec3& linear) { return HclFromOklab(OklabFromRec2020(linear)); }

Vec3 Rec2020FromHcl(const Hcl& hcl) { return Rec2020FromOklab(OklabFromHcl(hcl)); }

}  // namespace samelight::color
