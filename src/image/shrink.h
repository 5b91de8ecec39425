// Reducing a picture that need not be in floats.
#pragma once

#include "base/cancel.h"
#include "image/samples.h"

namespace samelight::image {

// Of a picture whose long side is brought to at most `long_side_px`: to the nearest pixel, at least one.
struct Reduced {
  int width, height;
};
Reduced SizeWithin(int width, int height, int long_side_px);

// As ShrinkTo of resize.h, row by row: samples are never floats all at once. Asked to stop (looked at once a
// row) it leaves the rest unspecified.
RgbF ShrinkTo(const Source& in, int long_side_px, const Cancel& cancel);

}  // namespace samelight::image
