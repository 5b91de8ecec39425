// The middle of a list of numbers.
#pragma once

#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace samelight {

// The upper of the two middle values when there is an even number. `v` must not be empty or hold NaN; it is
// reordered.
template <class T>
T Median(std::vector<T>& v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// The value at which half of the weight is reached; 0 without any weight. `v`: value and weight.
inline double WeightedMedian(std::vector<std::pair<double, double>> v) {
  double total = 0, sum = 0;
  for (const auto& [value, weight] : v) total += weight;
  std::sort(v.begin(), v.end());
  for (const auto& [value, weight] : v)
    if (2 * (sum += weight) >= total && weight > 0) return value;
  return 0;
}

}  // namespace samelight
