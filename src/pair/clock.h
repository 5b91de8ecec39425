// One clock for all bodies.
#pragma once

#include <string>
#include <vector>

#include "record/photo.h"

namespace samelight::pair {

using record::BodyName;

// Two frames of different bodies that show the same things.
struct ClockLink {
  int body_a = 0, body_b = 0;
  double later_s = 0;  // b's own time minus a's own time
  double weight = 1;   // > 0
};

struct ClockOffset {
  double offset_s = 0;    // to be added to the body's times
  double confidence = 0;  // 0 (nothing known, offset 0) to 1
};

// Offsets of `bodies` clocks against body 0 (offset 0, confidence 1). The links of two bodies vote for an
// offset; since two frames of one place may lie minutes apart, the densest run of votes counts, not their
// mean, and the offset is the weighted median of the votes near it. Bodies are reached over other bodies
// where that is surer.
std::vector<ClockOffset> EstimateClocks(int bodies, const std::vector<ClockLink>& links);

}  // namespace samelight::pair
