// Sizes, blur and turns of pictures in linear light.
#pragma once

#include "image/raster.h"

namespace samelight::image {

// Area-averaged copy whose long side is at most `long_side_px` (never enlarged). Linear in, linear out; NaN spreads.
RgbF ShrinkTo(const RgbF& in, int long_side_px);
PlaneF ShrinkTo(const PlaneF& in, int long_side_px);
// To exactly `width_px` x `height_px`: area-averaged when shrinking, bicubic when enlarging.
RgbF ResizeTo(const RgbF& in, int width_px, int height_px);
// Gaussian blur with standard deviation `sigma_px` (> 0), borders reflected.
RgbF Blur(const RgbF& in, double sigma_px);
PlaneF Blur(const PlaneF& in, double sigma_px);
// Luminance (Y of linear BT.2020, ITU-R BT.2020-2 Table 4: 0.2627, 0.6780, 0.0593).
PlaneF Luminance(const RgbF& rec2020_linear);

}  // namespace samelight::image
