// The part of a picture that a view shows, at the size of the screen, in linear light.
#pragma once

#include <cstdint>
#include <vector>

#include "image/raster.h"
#include "preview/view.h"

namespace samelight::preview {

struct Sampled {
  image::RgbF linear;                // linear BT.2020 as decoded
  std::vector<std::uint8_t> inside;  // 1 where the picture is, one per pixel; empty: everywhere
};

// Samples `proxy`, a smaller (or full) version of a picture of `full_width` pixels, for an output of `width`
// x `height`. Shrinking averages areas (linear light), enlarging interpolates between pixels; from 100 % on
// pixels stay squares when the proxy is the full picture. Outside the picture: 0, inside 0. Uses all workers.
void Sample(const image::RgbF& proxy, int full_width, const View& view, int width, int height, Sampled& out);

}  // namespace samelight::preview
