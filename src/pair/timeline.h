// Frames in the order in which they were taken.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "record/photo.h"

namespace samelight::pair {

// Names in the order a person expects: digits as numbers, letters without regard to case (bytes decide among
// equals).
bool NaturalLess(const std::string& a, const std::string& b);

struct Kin {
  int a = 0, b = 0;  // indices of frames that show the same things
  double strength = 0;
};

struct Timeline {
  std::vector<int> order;  // indices of frames, first taken first
  std::vector<std::optional<double>>
      time_s;  // per frame (not per place in the order), on the session's clock
};

// `times`: per frame, already on one clock. A frame without time stands right after its strongest kin that
// has one; without kin after the frame before it by name in its folder; failing that, all in order of names
// at the end.
Timeline OrderFrames(const std::vector<const record::Photo*>& frames,
                     const std::vector<std::optional<double>>& times, const std::vector<Kin>& kin);

}  // namespace samelight::pair
