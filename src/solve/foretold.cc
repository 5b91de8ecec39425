#include "solve/foretold.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "look/evaluate.h"
#include "solve/predict.h"

namespace samelight::solve {
namespace {

constexpr double kWorthAWord = 5;  // CIELAB units
// How lights of one session differ from what is foretold, believed as firmly as two lights would tell it.
constexpr double kUsualSpread = 3.5, kBeliefs = 2;

struct Departure {
  double size;
  const char *more, *less;
};

std::string InWords(const Departure& d) {
  return fmt::format("{:.1f} {}", std::abs(d.size), d.size > 0 ? d.more : d.less);
}

}  // namespace

Foretold ForetellGrey(const Earlier& before, const LightState& state, const LookVector& look,
                      const Vec3& offset_log10) {
  const Vec3 grey{look::kMidGrey, look::kMidGrey, look::kMidGrey};
  const OffsetPrior belief = LightRule({}, before.rule).For(state);
  return {PredictLab(before.look.mean, belief.mean, grey), PredictLab(look, offset_log10, grey)};
}

std::optional<std::string> UnlikeForetold(const std::vector<Foretold>& lights, const std::string& name) {
  if (lights.empty()) return std::nullopt;
  const double n = static_cast<double>(lights.size());
  Vec3 mean{}, square{};
  for (const Foretold& l : lights)
    for (int c = 0; c < 3; ++c) {
      const double d = l.seen[c] - l.before[c];
      mean[c] += d / n;
      square[c] += d * d / n;
    }
  std::vector<Departure> told;
  const std::array<std::pair<const char*, const char*>, 3> words = {{{"lighter (L*)", "darker (L*)"},
                                                                     {"more magenta (a*)", "greener (a*)"},
                                                                     {"warmer (b*)", "cooler (b*)"}}};
  for (int c = 0; c < 3; ++c) {
    const double around = n * (square[c] - mean[c] * mean[c]);
    const double variance =
        (std::max(0.0, around) + kBeliefs * kUsualSpread * kUsualSpread) / (n - 1 + kBeliefs);
    const double spread = std::sqrt(variance / n);
    if (std::abs(mean[c]) > std::max(kWorthAWord, 2 * spread))
      told.push_back({mean[c], words[c].first, words[c].second});
  }
  if (told.empty()) return std::nullopt;
  std::string list = InWords(told.front());
  for (std::size_t i = 1; i < told.size(); ++i)
    list += (i + 1 == told.size() ? " and " : ", ") + InWords(told[i]);
  return fmt::format(
      "The scans print a mid-grey {} than the look '{}' foretells: perhaps another lab or stock. Lights with "
      "film follow the scans; look at the lights without film, where the look still counts.",
      list, name);
}

}  // namespace samelight::solve
