#include <algorithm>
#include <array>
#include <cmath>

#include "measure/measure.h"

namespace samelight::measure {
namespace {

constexpr std::array<double, 5> kQuantiles{0.05, 0.25, 0.5, 0.75, 0.95};
// Fewer pixels say nothing about a region.
constexpr std::size_t kLeastPixels = 48;

// The three channels of the pixels of one region.
using Samples = std::array<std::vector<float>, 3>;

void Add(Samples& samples, const float* rgb) {
  for (int c = 0; c < 3; ++c) samples[c].push_back(rgb[c]);
}

}  // namespace

std::vector<record::RegionStat> RegionStatistics(const image::RgbF& linear, const image::PlaneU8& labels,
                                                 const image::PlaneU8& faces) {
  if (linear.width() != labels.width() || linear.height() != labels.height()) return {};
  const bool with_faces = faces.width() == labels.width() && faces.height() == labels.height();
  std::array<Samples, 256> kinds, face_skin;
  const std::size_t count = linear.pixels();
  for (std::size_t i = 0; i < count; ++i) {
    const std::uint8_t kind = labels.data()[i];
    // kOther is kept too: with it the kinds cover the whole picture but what is masked.
    if (kind == static_cast<std::uint8_t>(record::RegionKind::kMasked)) continue;
    const float* p = linear.data().data() + 3 * i;
    if (!std::isfinite(p[0]) || !std::isfinite(p[1]) || !std::isfinite(p[2])) continue;
    Add(kinds[kind], p);
    if (kind == static_cast<std::uint8_t>(record::RegionKind::kSkin) && with_faces && faces.data()[i])
      Add(face_skin[faces.data()[i]], p);
  }
  std::vector<record::RegionStat> stats;
  const auto add = [&](Samples& values, int kind, int face) {
    const std::size_t n = values[0].size();
    if (n < kLeastPixels) return;
    record::RegionStat s;
    s.kind = static_cast<record::RegionKind>(kind);
    s.face = face;
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
  };
  for (int kind = 0; kind < 256; ++kind) {
    add(kinds[kind], kind, -1);
    if (kind != static_cast<int>(record::RegionKind::kSkin)) continue;
    for (int face = 0; face < 255; ++face) add(face_skin[face + 1], kind, face);
  }
  return stats;
}

}  // namespace samelight::measure
