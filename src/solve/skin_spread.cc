#include "solve/skin_spread.h"

#include <algorithm>
#include <cmath>

#include "look/evaluate.h"
#include "solve/left_over.h"

namespace samelight::solve {

std::optional<Vec3> SkinOf(const record::Measured& measured, const record::Correction& correction) {
  constexpr double kLeastArea = 0.002;
  for (const record::RegionStat& r : measured.regions)
    if (r.kind == record::RegionKind::kSkin && r.face < 0 && r.area >= kLeastArea)
      return LabOfDisplay(look::Evaluate(look::Resolve(correction), r.quantiles[2]));
  return std::nullopt;
}

std::vector<SkinSpread> SkinSpreads(const std::vector<record::FrameSolution>& frames,
                                    const std::unordered_map<PhotoId, record::Measured>& measured) {
  struct Sum {
    LightId light;
    int n = 0;
    Vec3 sum{}, square{};
  };
  std::vector<Sum> sums;
  for (const record::FrameSolution& f : frames) {
    const auto m = measured.find(f.frame);
    if (m == measured.end() || !f.light.valid()) continue;
    const std::optional<Vec3> lab = SkinOf(m->second, f.correction);
    if (!lab) continue;
    auto at = std::find_if(sums.begin(), sums.end(), [&](const Sum& s) { return s.light == f.light; });
    if (at == sums.end()) at = sums.insert(at, {f.light});
    ++at->n;
    for (int c = 0; c < 3; ++c) {
      at->sum[c] += (*lab)[c];
      at->square[c] += (*lab)[c] * (*lab)[c];
    }
  }
  std::vector<SkinSpread> spreads;
  for (const Sum& s : sums) {
    if (s.n < 2) continue;
    SkinSpread spread{s.light, s.n, {}};
    for (int c = 0; c < 3; ++c)
      spread.sigma[c] = std::sqrt(std::max(0.0, (s.square[c] - s.sum[c] * s.sum[c] / s.n) / (s.n - 1)));
    spreads.push_back(spread);
  }
  return spreads;
}

}  // namespace samelight::solve
