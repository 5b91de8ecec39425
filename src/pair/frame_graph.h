// Which frames show the same things.
#pragma once

#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "pair/verify.h"
#include "record/photo.h"

namespace samelight::pair {

struct FrameLink {
  int a = 0, b = 0;   // a < b, indices of frames
  Verified verified;  // b_from_a
};

// Verifies each frame against its neighbours in its own body's order, its likest by the global vector, and
// its likest from other bodies and other sources (raw against JPEG). Frames without time stand in name order.
// Only verified links are returned, by rising (a, b).
std::vector<FrameLink> LinkFrames(const std::vector<View>& frames,
                                  const std::vector<const record::Photo*>& photos, Progress& progress,
                                  const Cancel& cancel);

}  // namespace samelight::pair
