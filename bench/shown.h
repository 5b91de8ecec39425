// Pictures as they are looked at: sRGB-encoded, and CIELAB of the same.
#pragma once

#include "image/raster.h"
#include "record/photo.h"

namespace samelight::bench {

// CIELAB (D65) of each pixel, three floats.
using LabF = image::RgbF;

// Linear BT.2020 (D65) times `gain`, clipped to 0..1 in linear sRGB, sRGB-encoded (IEC 61966-2-1). NaN gives
// 0.
image::RgbF ShownSrgb(const image::RgbF& rec2020_linear, double gain = 1);
// CIELAB (D65) of encoded sRGB; rounded to 16 bit on the way, values outside 0..1 are clipped.
LabF LabOfShown(const image::RgbF& srgb_encoded);
// CIELAB of linear BT.2020, clipped as a file would be.
LabF LabOfLinear(const image::RgbF& rec2020_linear);
// Encoded sRGB (0..1, clipped) of CIELAB.
image::RgbF ShownOfLab(const LabF& lab);

// Median luminance of linear BT.2020.
double MedianLuminance(const image::RgbF& rec2020_linear);

// The frame as the camera made it: a display-referred picture as it is; a scene-referred one at its as-shot
// white, plainly sRGB-encoded with its median luminance at mid-grey (0.18, common practice).
image::RgbF Untouched(const image::RgbF& rec2020_linear, bool scene_referred);

}  // namespace samelight::bench
