// Which part of a picture is foliage, sky, cloth, grey, shadow.
#pragma once

#include <vector>

#include "image/raster.h"
#include "measure/skin.h"
#include "record/region.h"

namespace samelight::measure {

// record::RegionKind per pixel. `lab` and `lab_other`: LabView with the picture's neutral taken out, and with
// another one that is about as likely: a pixel must fit a kind in both. `masked`: 0 where the picture holds
// evidence. Only pixels that leave no doubt are labelled, the rest stays kOther.
image::PlaneU8 LabelRegions(const image::RgbF& lab, const image::RgbF& lab_other,
                            const image::PlaneU8& masked, const Skin& skin,
                            const std::vector<record::Face>& faces);

}  // namespace samelight::measure
