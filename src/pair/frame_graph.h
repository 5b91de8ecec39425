// Which frames show the same things.
#pragma once

#include <set>
#include <utility>
#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "pair/kept.h"
#include "pair/verify.h"
#include "record/photo.h"

namespace samelight::pair {

struct FrameLink {
  int a = 0, b = 0;   // a < b, indices of frames
  Verified verified;  // b_from_a
};

// Verifies each frame against its neighbours in its own body's order (by time, else by name), its likest by
// the global vector, and its likest from other bodies and other sources (raw against JPEG). Only verified
// links are returned, by rising (a, b).
std::vector<FrameLink> LinkFrames(const std::vector<View>& frames,
                                  const std::vector<const record::Photo*>& photos, Kept& kept,
                                  Progress& progress, const Cancel& cancel);

// Verifies the pairs (a < b) and adds those that hold to `links`, which stays in order. Pairs already there
// are skipped.
void VerifyLinks(const std::vector<View>& frames, const std::set<std::pair<int, int>>& pairs,
                 std::vector<FrameLink>& links, Kept& kept, Progress& progress, const Cancel& cancel);

}  // namespace samelight::pair
