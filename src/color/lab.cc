#include "color/lab.h"

#include <cmath>

namespace samelight::color {
namespace {

// ISO/CIE 11664-4: the cube root gives way to its own tangent-like line below (6/29)^3.
constexpr double kDelta = 6.0 / 29.0;

double Compress(double t) {
  return t > kDelta * kDelta * kDelta ? std::cbrt(t) : t / (3 * kDelta * kDelta) + 4.0 / 29.0;
}
double Expand(double f) { return f > kDelta ? f * f * f : 3 * kDelta * kDelta * (f - 4.0 / 29.0); }

struct Rec2020 {
  Vec3 white = XyzFromXy(kD65);
  Mat3 xyz_from_rgb = XyzFromRgb(Space::kRec2020);
  Mat3 rgb_from_xyz = RgbFromXyz(Space::kRec2020);
};
const Rec2020& Working() {
  static const Rec2020 working;
  return working;
}

}  // namespace

Vec3 LabFromXyz(const Vec3& xyz, const Vec3& white) {
  const double x = Compress(xyz[0] / white[0]), y = Compress(xyz[1] / white[1]),
               z = Compress(xyz[2] / white[2]);
  return {116 * y - 16, 500 * (x - y), 200 * (y - z)};
}

Vec3 XyzFromLab(const Vec3& lab, const Vec3& white) {
  const double y = (lab[0] + 16) / 116, x = y + lab[1] / 500, z = y - lab[2] / 200;
  return {white[0] * Expand(x), white[1] * Expand(y), white[2] * Expand(z)};
}

Vec3 LabFromRec2020(const Vec3& linear) {
  return LabFromXyz(Mul(Working().xyz_from_rgb, linear), Working().white);
}

Vec3 Rec2020FromLab(const Vec3& lab) { return Mul(Working().rgb_from_xyz, XyzFromLab(lab, Working().white)); }

}  // namespace samelight::color
