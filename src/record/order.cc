#include "record/order.h"

#include <cmath>

namespace samelight::record {

bool Sound(const Framing& f) {
  constexpr double kLeast = 0.01;
  const Crop& c = f.crop;
  return f.quarter_turns >= 0 && f.quarter_turns <= 3 && c.left >= 0 && c.top >= 0 && c.right <= 1 &&
         c.bottom <= 1 && c.right - c.left >= kLeast && c.bottom - c.top >= kLeast &&
         std::abs(c.angle_deg) <= 45;
}

bool Whole(const Framing& f) {
  const Crop& c = f.crop;
  return f.quarter_turns == 0 && c.left == 0 && c.top == 0 && c.right == 1 && c.bottom == 1 &&
         c.angle_deg == 0;
}

}  // namespace samelight::record
