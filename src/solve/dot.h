// From a wished colour of one region to the fewest handles that give it.
#pragma once

#include <cstddef>
#include <vector>

#include "record/correction.h"
#include "record/handle.h"
#include "solve/region_samples.h"

namespace samelight::solve {

struct DotMove {
  record::Handles touch;              // that gets there
  std::vector<record::Handle> moved;  // one or two; none when nothing moves the region
  double miss = 0;                    // distance that is left in the a*b* plane
};

// Brings the median colour of regions[which] to (a, b) in CIELAB (D65), starting from correction.touch.
//
// Every set of one and of two handles is tried on a linear model (finite differences of the exact
// evaluation): the least-squares step toward the target, drawn back by how unlikely it is (steps of a size
// that editors make, larger for handles that the solve is unsure of) and by what it does to the other regions
// (away from their scan, or from where they are when there is none). The set with the least cost wins; a
// second handle has to earn its place. The winner is then refined against the exact evaluation; where one
// handle leaves a miss of more than 0.5, the best two are taken if they halve it. Formula: cost = |miss|^2 +
// 0.1 * sum over regions of (distance^2 after - before) + 0.05 * sum of (step / size)^2 + 0.3 per handle, in
// CIELAB units; a distance counts L* too, from where it was: a pull in the plane asks for no other lightness.
//
// `which` must be below regions.size(). Handles stay within their ranges, so that a target out of reach
// leaves a miss. Takes a few ms. Thread safe.
DotMove MoveDot(const record::Correction& correction, const std::vector<RegionSamples>& regions,
                std::size_t which, double a, double b, const record::Uncertainty& uncertainty);

}  // namespace samelight::solve
