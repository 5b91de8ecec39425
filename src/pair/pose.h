// Whether two pictures of one place show it in the same state: people, curtains and leaves where they were.
#pragma once

#include <vector>

#include "pair/verify.h"
#include "record/pair.h"

namespace samelight::pair {

// How near two pictures come to having been taken in the same moment, for two that verify.
struct Pose {
  double still = 0;     // share of the local matches that one smooth map explains to a few pixels
  double overlap = 0;   // as in Verified
  double moved_px = 0;  // mean distance of matched cells from one smooth map, far ones cut off; kPlaceSide
};

// `cells`: of the two, as MatchCells gives them. Fewer than kLeastCells count as fully moved.
inline constexpr int kLeastCells = 60;
Pose PoseOf(const View& a, const View& b, const Verified& verified, const std::vector<record::Cell>& cells);

// Natural logarithm of how much likelier this frame is to show a scan's moment than another one, up to a
// constant of the scan. Meaningful for differences between frames of the same scan only.
double PoseLog(const Pose& pose);

// Of all frames that verify against one scan, from their PoseLog: how much less likely each is to show its
// moment than the likeliest, a logarithm <= 0. One scan in ten (a guess: common practice to fire one camera
// alone) shows a moment that no frame has; then poses say nothing. This bounds what they can say. In the
// order of `pose_logs`.
std::vector<double> BehindTheLikeliest(const std::vector<double>& pose_logs);

}  // namespace samelight::pair
