// A picture turned, cut and straightened.
#pragma once

#include "base/cancel.h"
#include "image/raster.h"

namespace samelight::image {

struct Cut {
  int quarter_turns = 0;                            // clockwise, 0..3, first
  double left = 0, top = 0, right = 1, bottom = 1;  // fractions of the turned picture
  double angle_deg = 0;  // the content turns clockwise by it, about the middle of the cut; -45..45
};

// Size of the result for a picture of `width_px` x `height_px`: at least one pixel each way. When the turned
// rectangle's corners lie outside the picture it is made smaller about its middle until they do not.
struct CutSize {
  int width_px = 0, height_px = 0;
};
CutSize SizeOf(const Cut& cut, int width_px, int height_px);

// `in` stays as it is. Turns and cuts move pixels unchanged, to the nearest whole pixel; straightening
// interpolates (bicubic) and so may pass beyond the range of its neighbours by some percent of their
// difference. `room` lends its memory. Asked to stop (looked at once a row) it leaves the rest unspecified.
RgbF Reframe(const RgbF& in, const Cut& cut, const Cancel& cancel = {}, RgbF room = {});

}  // namespace samelight::image
