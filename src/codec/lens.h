// Lens faults that the lens database knows: vignetting, distortion, lateral fringing.
#pragma once

#include "base/cancel.h"
#include "image/raster.h"
#include "record/photo.h"

namespace samelight::codec {

// True when the database knows body and lens. Thread safe.
bool LensKnown(const record::Capture& capture);

// Corrects `linear` (RGB in linear light, stored or upright: all models are radial) in place. Returns false,
// without a change, when body or lens is unknown or the database holds nothing for them. Asked to stop
// (looked at once a row) it leaves an unfinished picture. Thread safe.
bool CorrectLens(const record::Capture& capture, image::RgbF& linear, const Cancel& cancel = {});

}  // namespace samelight::codec
