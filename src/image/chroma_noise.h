// Colour noise of high sensitivities, taken out where a picture is flat; luminance stays as it is.
#pragma once

#include "base/cancel.h"
#include "image/raster.h"
#include "image/samples.h"

namespace samelight::image {

// Noise of the two colour differences R - Y and B - Y of linear BT.2020: variance inside windows of
// (2 kChromaRadius + 1)^2 pixels, read + shot * Y (read-out and photons).
struct ChromaNoise {
  float red_read = 0, red_shot = 0, blue_read = 0, blue_shot = 0;
  // Share of the windows whose noise, one standard deviation, is above kVisible of their luminance.
  double noisy_share = 0;
  bool worth_reducing() const { return noisy_share > 0.5; }
};

inline constexpr int kChromaRadius = 6;  // px
// About one CIELAB unit on a mid-grey: less is not seen even pixel by pixel.
inline constexpr double kVisible = 0.03;

// From what the flattest quarter of some thousand windows shows. Pictures too small to tell (under 64 px)
// have none.
ChromaNoise MeasureChromaNoise(const Source& picture);

// Replaces R - Y and B - Y by a local line of luminance (guided filter: He, Sun, Tang 2013, IEEE TPAMI 35(6)
// 1397-1409) plus what of the rest stands out of the noise (local statistics: Lee 1980, IEEE TPAMI 2(2)
// 165-168). Y keeps its value to rounding: 0.2627 R + 0.6780 G + 0.0593 B (ITU-R BT.2020-2, Table 4). Where a
// colour edge stands out of the noise the pixels around it keep theirs. NaN and infinity stay where they are
// and count as 0 around them. Uses one thread. `picture` is unfinished after a cancel.
void ReduceChromaNoise(RgbF& picture, const ChromaNoise& noise, const Cancel& cancel);

}  // namespace samelight::image
