// Chroma-free descriptors: local features and one global vector per picture.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "image/raster.h"
#include "measure/measure.h"

namespace samelight::measure {

struct Keypoint {
  float x = 0, y = 0;  // fractions of the upright picture
  float size = 0;      // px at analysis size, the blur at which it was found
  float angle_deg = 0;
};

struct Features {
  std::vector<Keypoint> points;     // the first n are always the n best, spread over the picture
  std::vector<std::uint8_t> local;  // kLocalSize bytes per keypoint
  std::vector<float> global;        // unit length; dot product is a similarity
};
inline constexpr int kLocalSize = 128;

// From luminance only (locally normalised log), so colour, exposure and film curve hardly matter. Masked
// pixels give none.
Features ExtractFeatures(const Analysis& analysis);

// Log2 luminance minus its local mean, divided by its local standard deviation plus a floor of
// kNoiseFloorStops, so that exposure, tone curve and vignetting hardly matter. `valid`: nonzero where the
// pixel counts (same size); elsewhere the result is 0. The window is a Gaussian of `sigma_px`. Non-finite and
// negative luminances count as 0.
inline constexpr float kNoiseFloorStops = 0.15f;
image::PlaneF LocallyNormalisedLog(const image::PlaneF& luminance, const image::PlaneU8& valid,
                                   double sigma_px);

}  // namespace samelight::measure
