// The difference that remains between a scan and its frame, by region.
#pragma once

#include <string>
#include <vector>

#include "look/evaluate.h"
#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::solve {

// CIELAB (D65) of display-linear BT.2020, clipped to 0..1 in linear sRGB first, as a delivered file would be.
Vec3 LabOfDisplay(const Vec3& rec2020_display);

// How the camera itself would show a pixel: a JPEG as it is, a raw pixel by the neutral rendering at as-shot
// white with the frame's median luminance (2^log2_level) brought to mid-grey.
Vec3 AsTheCameraMadeIt(const record::Photo& frame, double log2_level, const Vec3& rec2020_linear);

// Medians per region of matched places: scan, frame as the camera made it, frame after `resolved`. Regions
// with fewer than 12 places are left out. A kind with several faces gets one entry per face. Worst first.
std::vector<record::LeftOver> MeasureLeftOver(const record::Correspondence& matched,
                                              const record::Photo& frame, double log2_level,
                                              const look::Resolved& resolved);

// "redder", "a little yellower", "lighter": what the frame is against the scan, in a word or two.
std::string DifferenceInWords(const Vec3& lab_frame, const Vec3& lab_scan);

}  // namespace samelight::solve
