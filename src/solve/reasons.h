// Left-overs of a solved frame, and the reasons to look at it, in plain words.
#pragma once

#include <unordered_map>
#include <vector>

#include "solve/solve.h"

namespace samelight::solve {

// What film saw of a light.
enum class Film {
  kNone,
  kLikeRegions,  // other things in it: only like regions were compared
  kMatched,      // the same places
};

// Fills left_over and adds to flags. `pair`: of the frame with its scan, or null. The frame's scan, nudge and
// scan_in_look must be set.
void Judge(const Request& request, const record::Photo& photo, const record::Pair* pair, Film film,
           record::FrameSolution& frame);

// What there is to judge a frame by; null: not there.
struct Evidence {
  const record::Photo* photo = nullptr;  // never null
  const record::Measured* measured = nullptr;
  const record::Correspondence* matched = nullptr;  // with its scan
  double tolerance = 2.5;                           // CIEDE2000
};

// A solution whose touch or follow was changed: its left-over measured again (kept without matched places),
// and every reason that depends on these, but for the skin of its light.
void Rejudge(const Evidence& evidence, record::FrameSolution& frame);

// Flags frames whose skin is far from the skin of the rest of their light, and takes such flags away where it
// is not (any more). `light`: the frames of one light.
void FlagOutliers(const std::unordered_map<PhotoId, record::Measured>& measured,
                  const std::vector<record::FrameSolution*>& light);
// The same for the lights of a session.
void FlagOutliers(const std::unordered_map<PhotoId, record::Measured>& measured,
                  std::vector<record::FrameSolution>& frames);

}  // namespace samelight::solve
