// The most promising frames for a scan, found cheaply.
#pragma once

#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "pair/verify.h"

namespace samelight::pair {

// Dot product of the global vectors; 0 when one is missing.
double GlobalSimilarity(const measure::Features& a, const measure::Features& b);

// Per scan, indices of up to `most` frames, best first: by agreement of the few best features of both (plain
// and mirrored), then by the global vectors. Stops early, with what it has, when cancelled.
std::vector<std::vector<int>> Shortlist(const std::vector<View>& scans, const std::vector<View>& frames,
                                        int most, Progress& progress, const Cancel& cancel);

}  // namespace samelight::pair
