// Local features that survive turns, scale and lighting: extrema of a scale space with histograms of
// gradients.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "image/raster.h"

namespace samelight::measure {

struct LocalFeature {
  float x = 0, y = 0;   // px, middle of the upper left pixel is (0.5, 0.5)
  float sigma_px = 0;   // scale: standard deviation of the blur at which it was found
  float angle_deg = 0;  // main gradient direction, clockwise on the screen from "to the right", 0..360
  float strength = 0;   // absolute response
  // Square roots of the L1-normalised histogram times 512, at most 255 (Arandjelovic, Zisserman 2012):
  // euclidean distance then compares histograms as Hellinger's does. Order: row, column, direction of a 4x4x8
  // grid in the feature's own frame (x along angle_deg, y a quarter turn clockwise).
  std::array<std::uint8_t, 128> descriptor{};
};

// Scale-invariant features after D. Lowe, "Distinctive Image Features from Scale-Invariant Keypoints", IJCV
// 60(2), 2004, of a picture with deviations of about 1 (LocallyNormalisedLog); without the doubling of the
// picture that Lowe starts with: in photographs of a scene from two cameras the finest structures do not
// repeat. `valid`: same size; no feature is centred where it is 0. At most `most`; for every n the first n
// are spread over the picture, strongest first. Finite input; deterministic; thread safe.
std::vector<LocalFeature> FindLocalFeatures(const image::PlaneF& picture, const image::PlaneU8& valid,
                                            int most);

}  // namespace samelight::measure
