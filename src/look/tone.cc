#include "look/tone.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace samelight::look {

ToneCurve::ToneCurve(std::vector<double> in, std::vector<double> out)
    : in_(std::move(in)), out_(std::move(out)) {
  const std::size_t n = in_.size();
  if (n < 2 || out_.size() != n) {
    in_.clear();
    return;
  }
  std::vector<double> secant(n - 1);
  for (std::size_t i = 0; i + 1 < n; ++i) secant[i] = (out_[i + 1] - out_[i]) / (in_[i + 1] - in_[i]);
  slope_.resize(n);
  slope_.front() = secant.front();
  slope_.back() = secant.back();
  for (std::size_t i = 1; i + 1 < n; ++i)
    slope_[i] = secant[i - 1] * secant[i] <= 0 ? 0.0 : 0.5 * (secant[i - 1] + secant[i]);
  for (std::size_t i = 0; i + 1 < n; ++i) {
    if (secant[i] == 0) {
      slope_[i] = slope_[i + 1] = 0;
      continue;
    }
    const double a = slope_[i] / secant[i], b = slope_[i + 1] / secant[i];
    const double r = std::hypot(a, b);
    if (r > 3) {
      slope_[i] = 3 * a / r * secant[i];
      slope_[i + 1] = 3 * b / r * secant[i];
    }
  }
}

double ToneCurve::operator()(double x) const {
  if (in_.empty()) return x;
  if (x <= in_.front()) return out_.front() + (x - in_.front()) * slope_.front();
  if (x >= in_.back()) return out_.back() + (x - in_.back()) * slope_.back();
  const std::size_t i =
      static_cast<std::size_t>(std::upper_bound(in_.begin(), in_.end(), x) - in_.begin()) - 1;
  if (i + 1 >= in_.size()) return x;  // NaN
  const double h = in_[i + 1] - in_[i], t = (x - in_[i]) / h;
  const double t2 = t * t, t3 = t2 * t;
  return (2 * t3 - 3 * t2 + 1) * out_[i] + (t3 - 2 * t2 + t) * h * slope_[i] +
         (3 * t2 - 2 * t3) * out_[i + 1] + (t3 - t2) * h * slope_[i + 1];
}

}  // namespace samelight::look
