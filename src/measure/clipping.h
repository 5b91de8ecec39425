// Pixels whose value is only known to be "at least this".
#pragma once

#include "image/raster.h"
#include "record/photo.h"

namespace samelight::measure {

struct Clipping {
  // At the wanted size: 255 where more than 1/16 of the source pixels were clipped, and one pixel around
  // (rims are mixtures when the picture was shrunk before).
  image::PlaneU8 high;
  double fraction_high = 0, fraction_low = 0;  // of the source pixels
};

// Looks at the picture at its full size, before shrinking hides the clipped ones. Display-referred: any
// channel at the upper end of the file's own space (taken to be the smallest common one that holds the
// picture). Raw: any channel at the camera's white level.
Clipping FindClipping(const image::RgbF& rec2020_linear, const record::Photo& photo, int width_px,
                      int height_px);

}  // namespace samelight::measure
