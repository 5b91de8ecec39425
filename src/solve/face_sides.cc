#include "solve/face_sides.h"

#include <algorithm>

namespace samelight::solve {

std::vector<record::Side> SidesOf(const std::vector<double>& lightness) {
  constexpr std::size_t kFewest = 12;
  constexpr double kApart = 10;
  const std::size_t n = lightness.size();
  std::vector<record::Side> sides(n, record::Side::kWhole);
  if (n < 2 * kFewest) return sides;
  std::vector<double> sorted = lightness;
  std::sort(sorted.begin(), sorted.end());
  double total = 0;
  for (const double v : sorted) total += v;
  double best = -1, threshold = 0, apart = 0, below = 0;
  std::size_t shaded = 0;
  for (std::size_t i = 1; i < n; ++i) {
    below += sorted[i - 1];
    const double low = below / static_cast<double>(i), high = (total - below) / static_cast<double>(n - i);
    const double between = static_cast<double>(i) * static_cast<double>(n - i) * (high - low) * (high - low);
    if (!(between > best)) continue;
    best = between;
    threshold = sorted[i];
    apart = high - low;
    shaded = i;
  }
  if (!(apart >= kApart) || shaded < kFewest || n - shaded < kFewest) return sides;
  for (std::size_t i = 0; i < n; ++i)
    sides[i] = lightness[i] >= threshold ? record::Side::kLit : record::Side::kShaded;
  return sides;
}

}  // namespace samelight::solve
