// From an aligned roll to one answer per scan.
#pragma once

#include <vector>

#include "record/pair.h"

namespace samelight::pair {

// What is known of one scan against all frames, by place in the timeline.
struct ScanView {
  std::vector<double> match;      // probability of the same moment (align.h)
  std::vector<double> alone;      // the same without the order of the roll; empty: no order was asked
  std::vector<double> log_ratio;  // of the pictures alone (evidence.h)
  std::vector<bool> verified;
  std::vector<double> likeness;  // global similarity
  std::vector<bool> refused;     // by a person
  int joined = -1;               // place of the frame that a person joined
};

struct Choice {
  int frame = -1;  // place in the timeline, -1 for none
  record::PairKind kind = record::PairKind::kNone;
  double confidence = 0;
};

struct Answer {
  Choice choice;
  bool by_person = false;
  bool by_order = false;       // the pictures alone would leave its light open, or less than sure
  bool doubtful = false;       // frames of several lights verify and none of the lights is likely enough
  std::vector<Choice> others;  // up to three, best first
};

// An answer is sure from here on: what is carried from it is used without a person being asked.
inline constexpr double kSureAnswer = 0.9;

// How far neighbours on the roll may be asked (align.h).
struct Order {
  double in_order = 1, untouched = 1;
};

// One answer per scan of a roll, in roll order. `light`: label per place in the timeline; `time_s`: per
// place, NaN where not known. Moment: a verified frame; its confidence is that of the light, since frames of
// one light share a moment, and below 0.75 nothing is claimed: the answer is none, with little confidence,
// and the lights that it may be are the alternatives. Where frames of several lights verify and a roll is not
// untouched, files out of place must not tell one of them: the pictures alone must say it with 0.95. Light:
// no frame was verified, but the nearest scans before and after that have a moment lie in one light, near in
// time. None: else. Confidence of 0.99 and more only where the pictures alone leave no doubt, no frame of
// another light verifies, and none of the frames that do shows a place that was seen in another light too
// (`elsewhere`, per place in the timeline; empty: none).
std::vector<Answer> Decide(const std::vector<ScanView>& roll, const std::vector<int>& light,
                           const std::vector<double>& time_s, const std::vector<bool>& elsewhere = {},
                           const Order& order = {});

}  // namespace samelight::pair
