// From an aligned roll to one answer per scan.
#pragma once

#include <vector>

#include "record/pair.h"

namespace samelight::pair {

// What is known of one scan against all frames, by place in the timeline.
struct ScanView {
  std::vector<double> match;      // probability of the same moment (align.h)
  std::vector<double> place;      // probability of the place
  std::vector<double> log_ratio;  // of the pictures alone
  std::vector<double> likeness;   // global similarity
};

struct Answer {
  int frame = -1;  // place in the timeline, -1 for none
  record::PairKind kind = record::PairKind::kNone;
  double confidence = 0;
  struct Other {
    int frame = -1;
    record::PairKind kind = record::PairKind::kNone;
    double confidence = 0;
  };
  std::vector<Other> others;  // up to three, best first
};

// `light`: label per place in the timeline. `refused`: places a person refused.
Answer Decide(const ScanView& scan, const std::vector<int>& light, const std::vector<bool>& refused);

}  // namespace samelight::pair
