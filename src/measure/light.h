// Which light a picture says it was taken in.
#pragma once

#include <vector>

#include "image/raster.h"
#include "measure/tone_neutral.h"
#include "record/photo.h"
#include "record/region.h"

namespace samelight::measure {

// `rec2020_linear` at analysis size; pixels where `masked` is not 0 do not count. The neutral is the
// strongest concentration of chromaticities among those that daylight, lamps or a film's cast can plausibly
// give, bright pixels and edges counting more, large areas less; faces hold it where their skin looks like
// skin (weak). For raw the neutral is what is left after the camera's own white balance, and mired and Duv
// are those of the light itself: the camera's white corrected by that neutral as far as it is trusted. A
// picture without usable pixels gives confidence 0 and the prior.
//
// `by_tone`, if not null, becomes the neutral at each tone: the same at all for raw; otherwise followed from
// tone to tone as far as there are greys to see.
record::LightEstimate EstimateLight(const image::RgbF& rec2020_linear, const image::PlaneU8& masked,
                                    const image::PlaneU8& skin_alike, const record::Photo& photo,
                                    const std::vector<record::Face>& faces, ToneNeutral* by_tone = nullptr);

}  // namespace samelight::measure
