// Correlated colour temperature, Duv, the daylight and the Planckian locus.
#pragma once

#include "base/matrix.h"
#include "color/space.h"

// All functions are thread safe; NaN in gives NaN out.
namespace samelight::color {

// Second radiation constant, m K, as CIE 015:2018 uses it for colour temperature (ITS-90: 1.4388e-2).
inline constexpr double kPlanckC2 = 1.4388e-2;
// Range of the CIE daylight formula.
inline constexpr double kDaylightLeastK = 4000, kDaylightMostK = 25000;

// Chromaticity of CIE daylight (CIE 015:2018, 4.1.2), 4000..25000 K; outside, the Planckian locus shifted in
// CIE 1960 uv by the offset at the end. Clamped to 1000..100000 K.
Xy DaylightXy(double cct_k);
// Planckian radiator, c2 = 1.4388e-2 m K, sum over 360..830 nm at 5 nm (within 2e-6 in x, y of
// sums over 1 nm). Clamped to 1000..100000 K.
Xy PlanckianXy(double temperature_k);

// CIE 1960 UCS, the plane in which colour temperature is defined.
struct Uv {
  double u = 0, v = 0;
};
Uv UvFromXy(Xy xy);
Xy XyFromUv(Uv uv);

struct CctDuv {
  double cct_k = 0;
  double duv = 0;  // signed distance from the Planckian locus in CIE 1960 uv, positive above (greener)
};
// Nearest point of the Planckian locus in CIE 1960 uv (CIE 015:2018, 9.5; sign of Duv by ANSI C78.377, see
// Ohno 2014). Valid within |duv| <= 0.05, 1000..40000 K; beyond the ends the temperature clamps and duv is
// the part of the distance across the locus.
CctDuv CctDuvFromXy(Xy xy);
// The inverse: a step of `duv` from the locus along its normal. Temperature clamped to 1000..40000 K.
Xy XyFromCctDuv(const CctDuv& value);

inline constexpr double MiredFromKelvin(double kelvin) { return 1e6 / kelvin; }

// Linear BT.2020 matrix that moves the picture's white by `warmth_mired` along the daylight locus (positive
// warms) and `green_magenta` (Duv x 1000, positive greener) across it, from D65, by CAT16 in XYZ: a grey
// takes on the chromaticity of the new white and keeps its luminance. (0, 0) is the identity. The new white's
// temperature is clamped to 1000..100000 K (mired 10..1000), green_magenta to -50..50.
Mat3 WhiteShiftRec2020(double warmth_mired, double green_magenta);

}  // namespace samelight::color
