// Chroma-free descriptors: local features and one global vector per picture.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "image/raster.h"
#include "measure/measure.h"

namespace samelight::measure {

struct Keypoint {
  float x = 0, y = 0;                  // fractions of the upright picture
  float size = 0;                      // px at analysis size
  float angle_deg = 0;
};

struct Features {
  std::vector<Keypoint> points;
  std::vector<std::uint8_t> local;     // kLocalSize bytes per keypoint
  std::vector<float> global;           // unit length; dot product is a similarity
};
inline constexpr int kLocalSize = 128;

// From luminance only (locally normalised log), so colour, exposure and film curve hardly matter. Masked pixels give none.
Features ExtractFeatures(const Analysis& analysis);

}  // namespace samelight::measure
