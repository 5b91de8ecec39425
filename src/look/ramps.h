// Ramps that a look must not turn round: brighter in the scene is never visibly darker in the print.
#pragma once

#include "base/matrix.h"
#include "record/correction.h"

namespace samelight::look {

// The most that a ramp of one chromaticity falls back below a brighter step that it had reached, in steps of
// the luminance as an 8-bit sRGB file stores it (IEC 61966-2-1). Ramps: grey and two saturations of twelve
// hues in unified scene-linear BT.2020, from black to white; `offset_log10` as in a correction. 0: nothing
// falls.
double LargestFall(const record::Look& look, const Vec3& offset_log10);

// Curves and matrices of the usual sizes do not make ramps fall; the interimage effect and the hue bumps,
// which act on differences between layers, can when they are strong. Gives `look` with these two drawn back
// toward none by the largest share that is needed for LargestFall below kMostFall. A look that does not fall
// so far is returned as it is. When even without both a ramp falls further, both are gone. A few ms. Thread
// safe.
inline constexpr double kMostFall = 0.7;  // steps; less than the one that could be seen
record::Look WithRisingRamps(const record::Look& look, const Vec3& offset_log10);

}  // namespace samelight::look
