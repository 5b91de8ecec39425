// A picture's neutral at every tone: a film's layers seldom stay parallel, so that greys change colour from
// shadows to highlights.
#pragma once

#include <array>

#include "base/matrix.h"

namespace samelight::measure {

class ToneNeutral {
 public:
  static constexpr int kKnots = 6;
  // log2 luminance of knot k.
  static constexpr double Tone(int k) { return -7.5 + 1.5 * k; }

  ToneNeutral() { log2_.fill({0, 0}); }
  // The same at all tones: linear BT.2020, green 1.
  static ToneNeutral Constant(const Vec3& neutral);
  // Knot k as (log2 R/G, log2 B/G).
  void Set(int k, double r, double b) { log2_[k] = {r, b}; }
  // Every knot moved toward 1 by raising it to `part` (0..1).
  ToneNeutral Toward1(double part) const;
  // Linear BT.2020, green 1, at a luminance; straight between the knots in log2, constant beyond. Luminance
  // <= 0 is the darkest.
  Vec3 At(double luminance) const;

 private:
  std::array<std::array<double, 2>, kKnots> log2_{};
};

}  // namespace samelight::measure
