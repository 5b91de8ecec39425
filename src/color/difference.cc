#include "color/difference.h"

#include <cmath>
#include <numbers>

namespace samelight::color {
namespace {

double Radians(double degrees) { return degrees * std::numbers::pi / 180; }
double Pow7(double x) { return x * x * x * x * x * x * x; }

// Hue angle 0..360, 0 for grey.
double HueDegrees(double a, double b) {
  if (a == 0 && b == 0) return 0;
  const double h = std::atan2(b, a) * 180 / std::numbers::pi;
  return h < 0 ? h + 360 : h;
}

}  // namespace

// Names and equation numbers of Sharma, Wu, Dalal 2005.
double Ciede2000(const Vec3& lab1, const Vec3& lab2) {
  constexpr double k25Pow7 = 6103515625.0;
  const double c_mean = (std::hypot(lab1[1], lab1[2]) + std::hypot(lab2[1], lab2[2])) / 2;
  const double g = 0.5 * (1 - std::sqrt(Pow7(c_mean) / (Pow7(c_mean) + k25Pow7)));  // (4)
  const double a1 = (1 + g) * lab1[1], a2 = (1 + g) * lab2[1];                      // (5)
  const double c1 = std::hypot(a1, lab1[2]), c2 = std::hypot(a2, lab2[2]);          // (6)
  const double h1 = HueDegrees(a1, lab1[2]), h2 = HueDegrees(a2, lab2[2]);          // (7)

  // The special cases of a grey in (10) and (14) are not needed: its chroma of 0 takes hue out by (11).
  double dh = h2 - h1;  // (10)
  if (dh > 180) dh -= 360;
  if (dh < -180) dh += 360;
  const double dl = lab2[0] - lab1[0], dc = c2 - c1;
  const double dh_metric = 2 * std::sqrt(c1 * c2) * std::sin(Radians(dh / 2));  // (11)

  const double l = (lab1[0] + lab2[0]) / 2, c = (c1 + c2) / 2;
  double h = h1 + h2;  // (14)
  if (std::fabs(h1 - h2) > 180) h += h < 360 ? 360 : -360;
  h /= 2;
  const double t = 1 - 0.17 * std::cos(Radians(h - 30)) + 0.24 * std::cos(Radians(2 * h)) +
                   0.32 * std::cos(Radians(3 * h + 6)) - 0.20 * std::cos(Radians(4 * h - 63));  // (15)
  const double l50 = (l - 50) * (l - 50);
  const double sl = 1 + 0.015 * l50 / std::sqrt(20 + l50);
  const double sc = 1 + 0.045 * c, sh = 1 + 0.015 * c * t;
  const double turn = (h - 275) / 25;
  const double rt = -std::sin(Radians(60 * std::exp(-turn * turn))) * 2 *
                    std::sqrt(Pow7(c) / (Pow7(c) + k25Pow7));  // (16), (17), (21)
  const double tl = dl / sl, tc = dc / sc, th = dh_metric / sh;
  const double square = tl * tl + tc * tc + th * th + rt * tc * th;
  // The rotation term can leave a negative rounding residue of near-identical colours. NaN is not below zero
  // and stays.
  return square < 0 ? 0 : std::sqrt(square);
}

}  // namespace samelight::color
