// Skin, found from the faces of a picture.
#pragma once

#include <vector>

#include "image/raster.h"
#include "record/region.h"

namespace samelight::measure {

struct Skin {
  image::PlaneU8 faces;  // 0: no skin, 1 + n: skin of face n
  image::PlaneU8 alike;  // 255 wherever the colour could be some face's skin, connected or not
};

// Both planes have the size of `rec2020_linear`. Each face's own middle says what skin looks like in this
// picture (log chromaticity, so neither exposure nor a colour cast matters); the region is what hangs
// together with it and has that colour: face, neck, bare arms. Where the colour also fits the surroundings,
// only the face stays. `masked` pixels never count. At most 254 faces.
Skin FindSkin(const image::RgbF& rec2020_linear, const image::PlaneU8& masked,
              const std::vector<record::Face>& faces);

}  // namespace samelight::measure
