// Smooth monotone curves through the points of a table.
#pragma once

#include <vector>

namespace samelight::simulate {

// Piecewise cubic through (x, y) with the slopes of Fritsch, Carlson 1980 (SIAM J. Numer. Anal. 17, 238):
// where the points rise the curve rises. Outside the table the end values are held.
class Curve {
 public:
  Curve() = default;
  // At least two points, x strictly ascending.
  Curve(std::vector<double> x, std::vector<double> y);
  double operator()(double x) const;

 private:
  std::vector<double> x_, y_, slope_;
};

// The same curve sampled densely, for pixels: linear between samples, end values held.
class FastCurve {
 public:
  FastCurve() = default;
  FastCurve(const Curve& curve, double least, double most, int samples = 1024);
  float operator()(float x) const {
    float t = (x - least_) * scale_;
    if (!(t > 0)) t = 0;
    if (t > last_) t = last_;
    const int i =
        static_cast<int>(t) < static_cast<int>(last_) ? static_cast<int>(t) : static_cast<int>(last_) - 1;
    return values_[i] + (t - i) * (values_[i + 1] - values_[i]);
  }

 private:
  float least_ = 0, scale_ = 1, last_ = 1;
  std::vector<float> values_{0, 0};
};

}  // namespace samelight::simulate
