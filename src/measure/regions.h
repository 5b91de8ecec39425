// Which part of a picture is foliage, sky, cloth, grey, shadow.
#pragma once

#include <vector>

#include "image/raster.h"
#include "record/region.h"

namespace samelight::measure {

// record::RegionKind per pixel. `lab`: LabView with the picture's neutral taken out; `masked`: 0 where the
// picture holds evidence; `skin`: FindSkin. Only pixels that leave no doubt are labelled, the rest stays
// kOther.
image::PlaneU8 LabelRegions(const image::RgbF& lab, const image::PlaneU8& masked, const image::PlaneU8& skin,
                            const std::vector<record::Face>& faces);

}  // namespace samelight::measure
