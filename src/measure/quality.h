// Faults and fineness of a picture: sharpness, grain, black-and-white, blank frames.
#pragma once

#include <string>

#include "image/raster.h"

namespace samelight::measure {

// How fine the strongest edges of a picture are: RMS of their second differences, noise taken off, over that
// of their slopes at a quarter of the size, in percent. Independent of exposure and contrast. `luminance`:
// linear, at most 2048 px on the long side; comparable among pictures of one burst. 0 for a picture without
// edges.
double Sharpness(const image::PlaneF& luminance);

// RMS of log10 luminance in the flattest mid-tone patches of 12 px, a plane through each taken out; pixels
// where `labels` is masked do not count. 0 when there is no flat patch.
double Grain(const image::RgbF& rec2020_linear, const image::PlaneU8& masked);

// True when the picture holds no colour, or one tone of colour for each lightness (a toned print). `lab`:
// CIELAB of pixels in any order (LabView without a neutral taken out).
bool IsBlackAndWhite(const image::RgbF& lab);

// A blank, burnt or black picture in plain words; empty when there is a picture. `lab` as above.
std::string BlankNote(const image::RgbF& lab, double clipped_high);

}  // namespace samelight::measure
