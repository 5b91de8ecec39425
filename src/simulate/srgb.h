// Display-linear sRGB pictures: encoding, reading, and how different two of them look.
#pragma once

#include "image/raster.h"

namespace samelight::simulate {

// IEC 61966-2-1, rounded to 8 bit; outside 0..1 is clipped.
image::RgbU8 EncodeSrgb(const image::RgbF& srgb_linear);
// Mean CIEDE2000 (D65) over pixels of two pictures of one size.
double MeanDifference(const image::RgbF& srgb_linear_a, const image::RgbF& srgb_linear_b);

}  // namespace samelight::simulate
