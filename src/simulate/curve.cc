#include "simulate/curve.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace samelight::simulate {

Curve::Curve(std::vector<double> x, std::vector<double> y) : x_(std::move(x)), y_(std::move(y)) {
  const std::size_t n = x_.size();
  std::vector<double> secant(n - 1);
  for (std::size_t i = 0; i + 1 < n; ++i) secant[i] = (y_[i + 1] - y_[i]) / (x_[i + 1] - x_[i]);
  slope_.assign(n, 0);
  slope_.front() = secant.front();
  slope_.back() = secant.back();
  for (std::size_t i = 1; i + 1 < n; ++i)
    slope_[i] = secant[i - 1] * secant[i] <= 0 ? 0 : (secant[i - 1] + secant[i]) / 2;
  for (std::size_t i = 0; i + 1 < n; ++i) {
    if (secant[i] == 0) {
      slope_[i] = slope_[i + 1] = 0;
      continue;
    }
    const double a = slope_[i] / secant[i], b = slope_[i + 1] / secant[i];
    const double length = std::hypot(a, b);
    if (length > 3) {
      slope_[i] = 3 * a / length * secant[i];
      slope_[i + 1] = 3 * b / length * secant[i];
    }
  }
}

double Curve::operator()(double x) const {
  if (!(x > x_.front())) return y_.front();
  if (x >= x_.back()) return y_.back();
  const std::size_t i = std::upper_bound(x_.begin(), x_.end(), x) - x_.begin() - 1;
  const double h = x_[i + 1] - x_[i], t = (x - x_[i]) / h, u = 1 - t;
  return u * u * (1 + 2 * t) * y_[i] + t * t * (3 - 2 * t) * y_[i + 1] +
         h * t * u * (u * slope_[i] - t * slope_[i + 1]);
}

FastCurve::FastCurve(const Curve& curve, double least, double most, int samples)
    : least_(static_cast<float>(least)),
      scale_(static_cast<float>((samples - 1) / (most - least))),
      last_(static_cast<float>(samples - 1)),
      values_(samples) {
  for (int i = 0; i < samples; ++i)
    values_[i] = static_cast<float>(curve(least + (most - least) * i / (samples - 1)));
}

}  // namespace samelight::simulate
