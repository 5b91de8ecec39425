// Bounds of a solution: the same corrections with their offsets moved to where the truth wants them.
#pragma once

#include <map>

#include "bench/resolve.h"

namespace samelight::bench {

// Adds to offset_log10 of all frames of one light (or of each frame by itself) the three numbers that bring
// them nearest to the truth: Gauss-Newton on CIELAB, a* and b* divided by 1 + 0.045 C*, over a sample of the
// pixels. What stays is the error of the look's form, of the frames' unification (per light only), and of the
// pixels.
enum class RefitBy { kLight, kFrame };
std::map<int, record::Correction> RefitOffsets(const std::map<int, record::Correction>& corrections,
                                               const Truth& truth, const Pictures& pictures, RefitBy by);

}  // namespace samelight::bench
