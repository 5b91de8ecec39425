#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "measure/measure.h"

namespace samelight::measure {
namespace {

constexpr std::array<double, 5> kQuantiles{0.05, 0.25, 0.5, 0.75, 0.95};
// Fewer pixels say nothing about a region.
constexpr std::size_t kLeastPixels = 48;

struct Key {
  std::uint8_t kind;
  int face;
  bool operator<(const Key& o) const { return kind != o.kind ? kind < o.kind : face < o.face; }
};

}  // namespace

std::vector<record::RegionStat> RegionStatistics(const image::RgbF& linear, const image::PlaneU8& labels,
                                                 const image::PlaneU8& faces) {
  std::vector<record::RegionStat> stats;
  if (linear.width() != labels.width() || linear.height() != labels.height()) return stats;
  const bool with_faces = faces.width() == labels.width() && faces.height() == labels.height();
  std::map<Key, std::array<std::vector<float>, 3>> samples;
  const std::size_t count = linear.pixels();
  for (std::size_t i = 0; i < count; ++i) {
    const std::uint8_t kind = labels.data()[i];
    if (kind == static_cast<std::uint8_t>(record::RegionKind::kOther) ||
        kind == static_cast<std::uint8_t>(record::RegionKind::kMasked))
      continue;
    const float* p = linear.data().data() + 3 * i;
    if (!std::isfinite(p[0]) || !std::isfinite(p[1]) || !std::isfinite(p[2])) continue;
    auto& whole = samples[{kind, -1}];
    for (int c = 0; c < 3; ++c) whole[c].push_back(p[c]);
    if (kind != static_cast<std::uint8_t>(record::RegionKind::kSkin) || !with_faces || faces.data()[i] == 0)
      continue;
    auto& one = samples[{kind, faces.data()[i] - 1}];
    for (int c = 0; c < 3; ++c) one[c].push_back(p[c]);
  }
  for (auto& [key, values] : samples) {
    const std::size_t n = values[0].size();
    if (n < kLeastPixels) continue;
    record::RegionStat s;
    s.kind = static_cast<record::RegionKind>(key.kind);
    s.face = key.face;
    s.area = static_cast<double>(n) / static_cast<double>(count);
    for (int c = 0; c < 3; ++c) {
      std::vector<float>& v = values[c];
      double sum = 0;
      for (const float x : v) sum += x;
      s.mean[c] = sum / static_cast<double>(n);
      auto from = v.begin();
      for (std::size_t q = 0; q < kQuantiles.size(); ++q) {
        const auto at = v.begin() + std::lround(kQuantiles[q] * static_cast<double>(n - 1));
        std::nth_element(from, at, v.end());
        s.quantiles[q][c] = *at;
        from = at;
      }
    }
    stats.push_back(s);
  }
  return stats;
}

}  // namespace samelight::measure
