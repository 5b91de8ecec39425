// Invented pictures and corrections for the tests and the benchmark.
#pragma once

#include <cmath>

#include "image/raster.h"
#include "look/evaluate.h"
#include "record/correction.h"

namespace samelight::preview {

// A smooth scene of many colours from about -7 to +2 EV around mid-grey, scene-linear.
inline image::RgbF SomeScene(int width, int height) {
  image::RgbF scene(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const double u = static_cast<double>(x) / width, v = static_cast<double>(y) / height;
      const double level = -3 + 2.5 * std::sin(7 * u + 3 * std::sin(5 * v)) + 0.3 * std::sin(60 * u + 40 * v);
      for (int c = 0; c < 3; ++c)
        scene.at(x, y)[c] = static_cast<float>(std::exp2(level + 0.7 * std::sin(9 * v + 4 * u + 2.1 * c)));
    }
  return scene;
}

// A film-like look away from the neutral one in every part.
inline record::Correction SomeCorrection() {
  record::Correction c;
  c.look = look::NeutralLook();
  c.look.m1 = {{{0.92, 0.05, 0.03}, {0.04, 0.93, 0.03}, {0.02, 0.06, 0.92}}};
  c.look.m2 = {{{1.08, -0.05, -0.03}, {-0.03, 1.07, -0.04}, {-0.02, -0.06, 1.08}}};
  for (int i = 0; i < 3; ++i) {
    c.look.layer[i].gamma = 1.2 + 0.05 * i;
    c.look.layer[i].floor = -1.9 + 0.05 * i;
  }
  c.look.bumps[1] = {2, -0.05, 0.5};
  c.look.bumps[3] = {-4, -0.1, 0};
  c.offset_log10 = {0.05, 0, -0.04};
  return c;
}

// One of red, green and blue of a pixel of the screen.
inline int Channel(std::uint32_t argb, int c) { return static_cast<int>(argb >> (16 - 8 * c) & 255); }

}  // namespace samelight::preview
