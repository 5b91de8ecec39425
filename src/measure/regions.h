// Which part of a picture is foliage, sky, cloth, grey, shadow.
#pragma once

#include <vector>

#include "image/raster.h"
#include "measure/skin.h"
#include "measure/tone_neutral.h"
#include "record/region.h"

namespace samelight::measure {

// record::RegionKind per pixel, the size of `rec2020_linear`; borders between kinds are true to 2 px.
// `neutral`: the picture's, linear BT.2020, green 1; `other_neutral`: one that is about as likely; a pixel
// must fit a kind with both. `masked`: 0 where the picture holds evidence. Only pixels that leave no doubt
// are labelled, the rest stays kOther.
image::PlaneU8 LabelRegions(const image::RgbF& rec2020_linear, const ToneNeutral& neutral,
                            const ToneNeutral& other_neutral, bool scene_referred,
                            const image::PlaneU8& masked, const Skin& skin,
                            const std::vector<record::Face>& faces);

}  // namespace samelight::measure
