// Correlated colour temperature, Duv, the daylight and the Planckian locus.
#pragma once

#include "base/matrix.h"
#include "color/space.h"

namespace samelight::color {

// Chromaticity of CIE daylight (CIE 015:2018), 4000..25000 K; outside, the Planckian locus shifted by the offset at the end.
Xy DaylightXy(double cct_k);
// Planckian radiator, c2 = 1.4388e-2 m K, 1000..100000 K.
Xy PlanckianXy(double temperature_k);

struct CctDuv {
  double cct_k = 0;
  double duv = 0;      // signed distance from the Planckian locus in CIE 1960 uv, positive above (greener)
};
// Nearest point of the Planckian locus in CIE 1960 uv (ANSI C78.377 / Ohno 2014 definition). Valid within |duv| <= 0.05,
// 1000..40000 K; the ends clamp.
CctDuv CctDuvFromXy(Xy xy);
Xy XyFromCctDuv(const CctDuv& value);

inline constexpr double MiredFromKelvin(double kelvin) { return 1e6 / kelvin; }

// Linear BT.2020 gains that move the picture's white by `warmth_mired` along the daylight locus (positive warms) and
// `green_magenta` (Duv x 1000, positive greener) across it, from D65, by CAT16 in XYZ. Luminance of the neutral is kept.
Mat3 WhiteShiftRec2020(double warmth_mired, double green_magenta);

}  // namespace samelight::color
