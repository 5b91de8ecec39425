// What in a film scan is not the photograph: the scanner's holder, film rebate, dust.
#pragma once

#include "image/raster.h"

namespace samelight::measure {

struct Border {
  image::PlaneU8 outside;  // 255 outside the photograph and on its soft edge, else 0
  // The largest upright part without border, fractions.
  double left = 0, top = 0, right = 1, bottom = 1;
};

// Finds near-black or near-white bands along the edges of a scan (`rec2020_linear`, display-referred):
// straight, even, up to 18 % deep, turned by up to 3 degrees, with rounded corners; a white band outside a
// black one counts too. A dark or light edge that belongs to the photograph is uneven or crooked and stays.
// Nothing found: all 0.
Border FindBorder(const image::RgbF& rec2020_linear);

// 255 on small bright or dark specks in otherwise smooth places of a scan, one pixel wider than they look,
// else 0.
image::PlaneU8 FindDust(const image::RgbF& rec2020_linear);

}  // namespace samelight::measure
