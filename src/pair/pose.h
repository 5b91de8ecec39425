// Whether two pictures of one place show it in the same state: people, curtains and leaves where they were.
#pragma once

#include <vector>

#include "pair/verify.h"
#include "record/pair.h"

namespace samelight::pair {

// A frame that verifies against a scan.
struct Other {
  const Verified* verified = nullptr;                // frame from scan
  const std::vector<record::Cell>* cells = nullptr;  // as MatchCells gives them
  View view;
};

// How near a frame comes to having been taken in the moment of a scan. Distances in px of kPlaceSide, in the
// scan; far ones are cut off.
struct Pose {
  double still = 0;     // share of the local matches that one smooth map explains to a few pixels
  double overlap = 0;   // as in Verified
  double moved_px = 0;  // mean distance of the cells from one smooth map
  // Where most frames agree that something in the scan stands elsewhere: how far this frame does not, mean
  // over its cells of the scalar product of what they say and what it says less; >= 0 but for chance.
  double alone_px2 = 0;
};

struct Poses {
  std::vector<Pose> of;  // in the order of the frames
  double apart = 0;      // how far the frames disagree among each other (HowFarApart)
};

// Fewer than kLeastCells cells count as fully moved.
inline constexpr int kLeastCells = 60;
Poses PosesOf(const View& scan, const std::vector<Other>& frames);

// Natural logarithm of how much likelier this frame is to show a scan's moment than another one, up to a
// constant of the scan. Meaningful for differences between frames of the same scan only.
double PoseLog(const Pose& pose);

// Probability that poses tell one moment of a place from another: where nothing moved between the frames
// they differ by framing and noise alone. `apart`: HowFarApart. 0 to 0.95.
double PosesTell(double apart);

// Of all frames that verify against one scan, from their PoseLog: how much less likely each is to show its
// moment than the likeliest, a logarithm <= 0. With 1 - `tell` poses say nothing; this bounds what they can
// say. In the order of `pose_logs`.
std::vector<double> BehindTheLikeliest(const std::vector<double>& pose_logs, double tell);

}  // namespace samelight::pair
