// Lens faults that the lens database knows: vignetting, distortion, lateral fringing.
#pragma once

#include "base/cancel.h"
#include "image/raster.h"
#include "image/samples.h"
#include "record/photo.h"

namespace samelight::codec {

// True when the database knows body and lens. Thread safe.
bool LensKnown(const record::Capture& capture);

// `stored` (RGB in linear light as the sensor has it) corrected and turned upright (`orientation` as EXIF
// numbers it) in `upright`, which keeps its memory when it is large enough. Returns false, and `upright` is
// only turned, when body or lens is unknown or the database holds nothing for them. Asked to stop (looked at
// once a row) it leaves an unfinished picture. Holds the rows of `stored` that one row of the result needs in
// floats, nothing of the picture's size. Thread safe.
bool CorrectLens(const record::Capture& capture, const image::Source& stored, int orientation,
                 image::RgbF& upright, const Cancel& cancel = {});

}  // namespace samelight::codec
