// The middle of a list of numbers.
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace samelight::solve {

// The upper of the two middle values when there is an even number. `v` must not be empty or hold NaN; it is
// reordered.
inline double Median(std::vector<double>& v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

}  // namespace samelight::solve
