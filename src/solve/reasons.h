// Left-overs of a solved frame, and the reasons to look at it, in plain words.
#pragma once

#include "solve/solve.h"

namespace samelight::solve {

// Fills left_over and adds to flags. `pair`: of the frame with its scan, or null; `filmed`: whether any scan
// saw its light.
void Judge(const Request& request, const record::Photo& photo, const record::Pair* pair, bool filmed,
           record::FrameSolution& frame);

// Flags frames whose skin is far from the skin of the rest of their light.
void FlagOutliers(const Request& request, Solution& solution);

}  // namespace samelight::solve
