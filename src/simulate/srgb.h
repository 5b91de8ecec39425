// Display-linear sRGB pictures: encoding, reading, and how different two of them look.
#pragma once

#include "image/raster.h"

namespace samelight::simulate {

// IEC 61966-2-1, rounded to 8 bit; outside 0..1 is clipped.
image::RgbU8 EncodeSrgb(const image::RgbF& srgb_linear);
// Mean CIEDE2000 (D65) over pixels of two pictures of one size.
double MeanDifference(const image::RgbF& srgb_linear_a, const image::RgbF& srgb_linear_b);

// The same over the pixels where the first channel of `where` is above 0.5 (all when `where` is empty); -1
// when there are fewer than 20.
double MeanDifferenceWhere(const image::RgbF& srgb_linear_a, const image::RgbF& srgb_linear_b,
                           const image::RgbF& where);

}  // namespace samelight::simulate
