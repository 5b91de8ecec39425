// Frames that show the same things repeat each other.
#pragma once

#include <vector>

#include "pair/lights.h"

namespace samelight::pair {

// Share of each moment's word about one quantity of its light that is its own, 0..1: 1 / (1 + r m), the
// design effect of a cluster sample (Kish, "Survey Sampling", 1965, 5.4), with m the number of moments that
// it is linked to and r how alike linked moments are in the quantity, learned here: 1 less the ratio of the
// variance between linked moments to that between others nearly as close. The level of a picture hangs on
// what is in it, so that a burst tells the level of its light but once; a camera's white errs anew each time.
// `values` and `weights` (0: not known) per moment in time order; `links` of moments near in time, the
// earlier first (NearLinks).
std::vector<double> OwnWord(const std::vector<double>& values, const std::vector<double>& weights,
                            const std::vector<Link>& links);

}  // namespace samelight::pair
