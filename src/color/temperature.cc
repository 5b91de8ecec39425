#include "color/temperature.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "color/adapt.h"
#include "color/cie_tables.h"

namespace samelight::color {
namespace {

constexpr double kPlanckLeastK = 1000, kPlanckMostK = 100000;
constexpr double kCctMostK = 40000;

// A point of the Planckian locus and its derivative by mired.
struct LocusPoint {
  Uv at, slope;
};

// u = 4X / (X + 15Y + 3Z), v = 6Y / (X + 15Y + 3Z); the derivative of Planck's law by 1/T is -c2/lambda times
// e^x / (e^x - 1) of itself.
LocusPoint Locus(double mired) {
  Vec3 sum{}, slope{};
  for (int i = 0; i < kCmfCount; ++i) {
    const double lambda = (kCmfFirstNm + kCmfStepNm * i) * 1e-9;
    const double x_per_mired = kPlanckC2 / lambda * 1e-6;
    const double grown = std::expm1(x_per_mired * mired);
    // Scaled by (560 nm)^5: only the ratio matters, and it keeps the sums near 1.
    const double power = std::pow(560e-9 / lambda, 5) / grown;
    const double power_slope = -power * x_per_mired * (1 + 1 / grown);
    for (int c = 0; c < 3; ++c) {
      sum[c] += power * kCie1931Cmf[i][c];
      slope[c] += power_slope * kCie1931Cmf[i][c];
    }
  }
  const double below = sum[0] + 15 * sum[1] + 3 * sum[2],
               below_slope = slope[0] + 15 * slope[1] + 3 * slope[2];
  const Uv at{4 * sum[0] / below, 6 * sum[1] / below};
  return {at, {(4 * slope[0] - at.u * below_slope) / below, (6 * slope[1] - at.v * below_slope) / below}};
}

double ClampedMired(double kelvin, double most_k) {
  return MiredFromKelvin(std::clamp(kelvin, kPlanckLeastK, most_k));
}

// Unit normal of the locus that points up (greener). u grows with mired, so it is the tangent turned left.
Uv Normal(const LocusPoint& point) {
  const double length = std::hypot(point.slope.u, point.slope.v);
  return {-point.slope.v / length, point.slope.u / length};
}

// How far `uv` lies ahead of `point` along the locus; zero at the foot of the perpendicular.
double Ahead(Uv uv, const LocusPoint& point) {
  return (uv.u - point.at.u) * point.slope.u + (uv.v - point.at.v) * point.slope.v;
}

Xy DaylightFormula(double t) {
  const double x = t <= 7000 ? -4.6070e9 / (t * t * t) + 2.9678e6 / (t * t) + 0.09911e3 / t + 0.244063
                             : -2.0064e9 / (t * t * t) + 1.9018e6 / (t * t) + 0.24748e3 / t + 0.237040;
  return {x, -3.000 * x * x + 2.870 * x - 0.275};
}

}  // namespace

Uv UvFromXy(Xy xy) {
  const double below = -2 * xy.x + 12 * xy.y + 3;
  return {4 * xy.x / below, 6 * xy.y / below};
}

Xy XyFromUv(Uv uv) {
  const double below = 2 * uv.u - 8 * uv.v + 4;
  return {3 * uv.u / below, 2 * uv.v / below};
}

Xy PlanckianXy(double temperature_k) { return XyFromUv(Locus(ClampedMired(temperature_k, kPlanckMostK)).at); }

Xy DaylightXy(double cct_k) {
  const double end_k = std::clamp(cct_k, kDaylightLeastK, kDaylightMostK);
  if (cct_k == end_k || std::isnan(cct_k)) return DaylightFormula(cct_k);
  const Uv end = UvFromXy(DaylightFormula(end_k)), planck_end = Locus(MiredFromKelvin(end_k)).at;
  const Uv planck = Locus(ClampedMired(cct_k, kPlanckMostK)).at;
  return XyFromUv({planck.u + end.u - planck_end.u, planck.v + end.v - planck_end.v});
}

CctDuv CctDuvFromXy(Xy xy) {
  const Uv uv = UvFromXy(xy);
  if (std::isnan(uv.u) || std::isnan(uv.v)) return {uv.u + uv.v, uv.u + uv.v};
  // The part along the locus falls with mired: halve the bracket by its sign, by Newton-like steps where they
  // stay inside.
  double low = MiredFromKelvin(kCctMostK), high = MiredFromKelvin(kPlanckLeastK);
  double mired = std::clamp(150.0, low, high);
  LocusPoint point = Locus(mired);
  for (int step = 0; step < 100; ++step) {
    const double ahead = Ahead(uv, point);
    (ahead > 0 ? low : high) = mired;
    // Arc length to the foot, exact for a straight locus.
    double next = mired + ahead / (point.slope.u * point.slope.u + point.slope.v * point.slope.v);
    if (!(next > low && next < high)) next = (low + high) / 2;
    const double moved = std::fabs(next - mired);
    mired = next;
    point = Locus(mired);
    if (moved < 1e-10 * mired) break;
  }
  const Uv normal = Normal(point);
  return {1e6 / mired, (uv.u - point.at.u) * normal.u + (uv.v - point.at.v) * normal.v};
}

Xy XyFromCctDuv(const CctDuv& value) {
  const LocusPoint point = Locus(ClampedMired(value.cct_k, kCctMostK));
  const Uv normal = Normal(point);
  return XyFromUv({point.at.u + value.duv * normal.u, point.at.v + value.duv * normal.v});
}

Mat3 WhiteShiftRec2020(double warmth_mired, double green_magenta) {
  // D65 lies at 6500 K x 1.4388 / 1.4380 (CIE 015:2018, 4.1.1, note on the change of c2).
  constexpr double kD65Mired = MiredFromKelvin(6500 * 1.4388 / 1.4380);
  const double mired =
      std::clamp(kD65Mired + warmth_mired, MiredFromKelvin(kPlanckMostK), MiredFromKelvin(kPlanckLeastK));
  const double duv = std::clamp(green_magenta, -50.0, 50.0) / 1000;
  // Moves relative to the locus' own D65, which differs from the standard's 4-digit xy by 2e-5.
  const Uv d65 = UvFromXy(kD65), locus_d65 = UvFromXy(DaylightXy(MiredFromKelvin(kD65Mired)));
  const Uv daylight = UvFromXy(DaylightXy(MiredFromKelvin(mired))), normal = Normal(Locus(mired));
  const Xy white = XyFromUv(
      {d65.u + daylight.u - locus_d65.u + duv * normal.u, d65.v + daylight.v - locus_d65.v + duv * normal.v});
  const Mat3 adapt = Adaptation(XyzFromXy(kD65), XyzFromXy(white), AdaptMethod::kCat16);
  return Mul(RgbFromXyz(Space::kRec2020), Mul(adapt, XyzFromRgb(Space::kRec2020)));
}

}  // namespace samelight::color
