// Monotone tone curves through knots, for the inverse of a camera's own JPEG rendering.
#pragma once

#include <vector>

namespace samelight::look {

// Monotone piecewise cubic through (in, out), Fritsch & Carlson 1980 (SIAM J. Numer. Anal. 17, 238), straight
// beyond the ends. `in` strictly increasing, `out` non-decreasing, at least two knots. Not thread-shared
// while being built.
class ToneCurve {
 public:
  ToneCurve() = default;
  ToneCurve(std::vector<double> in, std::vector<double> out);
  bool empty() const { return in_.empty(); }
  // NaN gives NaN.
  double operator()(double x) const;

 private:
  std::vector<double> in_, out_, slope_;
};

}  // namespace samelight::look
