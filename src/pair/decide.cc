#include "pair/decide.h"

#include <algorithm>
#include <map>

#include "pair/evidence.h"

namespace samelight::pair {
namespace {

constexpr double kMostConfidence = 0.985;  // unless the pictures alone leave no doubt
constexpr double kOverwhelming = 12;       // log ratio
constexpr double kLightTrust = 0.8;  // a scan between frames of a light may still show a place of its own

}  // namespace

Answer Decide(const ScanView& scan, const std::vector<int>& light, const std::vector<bool>& refused) {
  const int n = static_cast<int>(light.size());
  std::map<int, double> moment_of, place_of;
  int best = -1;
  for (int j = 0; j < n; ++j) {
    place_of[light[j]] += scan.place[j];
    if (refused[j] || scan.log_ratio[j] <= kUnverifiedLogRatio) continue;
    moment_of[light[j]] += scan.match[j];
    if (best < 0 || scan.match[j] > scan.match[best]) best = j;
  }
  Answer out;
  const double moment = best >= 0 ? moment_of[light[best]] : 0;
  int likely_light = -1;
  for (const auto& [l, p] : place_of)
    if (likely_light < 0 || p > place_of[likely_light]) likely_light = l;
  int likest = -1;
  for (int j = 0; j < n; ++j)
    if (light[j] == likely_light && !refused[j] && (likest < 0 || scan.likeness[j] > scan.likeness[likest]))
      likest = j;
  const double same_light = likest >= 0 ? kLightTrust * place_of[likely_light] : 0;

  if (moment >= 0.5) {
    const double most = scan.log_ratio[best] >= kOverwhelming ? 0.999 : kMostConfidence;
    out = {best, record::PairKind::kMoment, std::min(moment, most), {}};
  } else if (same_light >= 0.5) {
    out = {likest, record::PairKind::kLight, same_light, {}};
  } else {
    out.confidence = std::clamp(1 - std::max(moment, same_light), 0.0, kMostConfidence);
  }
  std::vector<Answer::Other> others;
  for (int j = 0; j < n; ++j)
    if (j != out.frame && !refused[j] && scan.log_ratio[j] > kUnverifiedLogRatio)
      others.push_back({j, record::PairKind::kMoment, std::min(scan.match[j], kMostConfidence)});
  if (likest >= 0 && likest != out.frame) others.push_back({likest, record::PairKind::kLight, same_light});
  std::stable_sort(others.begin(), others.end(),
                   [](const auto& x, const auto& y) { return x.confidence > y.confidence; });
  if (others.size() > 3) others.resize(3);
  out.others = std::move(others);
  return out;
}

}  // namespace samelight::pair
