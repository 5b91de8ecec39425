// The most promising frames for a scan, found cheaply.
#pragma once

#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "pair/kept.h"
#include "pair/verify.h"

namespace samelight::pair {

// Dot product of the global vectors; 0 when one is missing.
double GlobalSimilarity(const measure::Features& a, const measure::Features& b);

// Per scan and frame, how promising the pair is: agreement of the few best features of both (plain and
// mirrored; the number that Verified::evidence tells, at least 0) plus twice the similarity of the global
// vectors. Stops early when cancelled.
std::vector<std::vector<double>> CompareCheaply(const std::vector<View>& scans,
                                                const std::vector<View>& frames, Kept& kept,
                                                Progress& progress, const Cancel& cancel);

// Frames worth verifying for a scan: the most promising of all, and the most promising of every light that
// might be it, since one place may be seen in several lights. `score` and `light` by frame. Rising indices.
std::vector<int> Shortlist(const std::vector<double>& score, const std::vector<int>& light);

}  // namespace samelight::pair
