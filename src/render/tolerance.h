// How far a baked correction is from the exact one, and a bake that is large enough.
#pragma once

#include "render/bake.h"

namespace samelight::render {

// CIEDE2000 between the baked and the exact colour, both clipped to the output space.
struct BakeError {
  double mean = 0;
  double p99 = 0;  // 99th percentile
  double most = 0;
};

// Over about 1400 fixed inputs: greys, darks, skin and random colours from -9 to +4 EV. Takes about 3 ms.
BakeError MeasureBake(const look::Resolved& resolved, color::Space space, const BakedCorrection& baked);

// The smallest table of 33, 49 and 65 nodes whose measured error is small enough that over dense samples of
// the covered inputs the mean stays within 0.05, the 99.9th percentile within 0.3 and the largest within 1
// (bake_test.cc holds it to that over random corrections; a display-referred source with sharp features in
// its darks can pass 0.3 even at 65). Returns the measured error.
BakeError BakeWithin(const look::Resolved& resolved, color::Space space, BakedCorrection& baked);

}  // namespace samelight::render
