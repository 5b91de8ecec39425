// Acutance: detail of the output's luma made stronger at the delivered size.
#pragma once

#include <cstddef>

namespace samelight::render {

// Reach of the filter in pixels: rows and columns within it must be at hand.
inline constexpr int kSharpenReach = 3;

// Luma of `count` encoded pixels of four floats: 0.2126 R + 0.7152 G + 0.0722 B (ITU-R BT.709-6, item 3.2).
void LumaRow(const float* rgbx, std::size_t count, float* luma);

// Adds gain x (luma - blurred luma) to the three channels of `count` pixels, in place; the difference is
// limited to +-0.1 so that strong edges get no rim. Blur: Gaussian of 1 px over 7 x 7. The response is 1 at
// frequency 0 and 1 + gain at the finest. `rows`: 7 rows of luma, the fourth is the pixels' own; each begins
// kSharpenReach columns before the first pixel and ends as many after the last. Vector targets agree within
// 1e-5. Thread safe.
void SharpenRow(const float* const rows[2 * kSharpenReach + 1], std::size_t count, float gain, float* rgbx);

}  // namespace samelight::render
