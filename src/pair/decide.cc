#include "pair/decide.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace samelight::pair {
namespace {

using record::PairKind;

constexpr double kMostConfidence = 0.985;  // unless the pictures alone leave no doubt
constexpr double kNoDoubt = 12;            // log ratio
// A light is claimed from this on: a wrong one colours all that is carried from the scan, an open one costs a
// person one choice of three.
constexpr double kClaim = 0.75;
constexpr double kOfPictures = 0.95;  // from here on the pictures alone tell one of several lights
constexpr double kSure = 0.8;         // of a neighbour on the roll
constexpr double kNear_s = 40 * 60;   // neighbours of one light lie at most this far apart
constexpr double kBetween = 0.75;     // confidence of a light seen before and after,
constexpr double kBeside = 0.25;      // or on one side only

Answer Moment(const ScanView& scan, const std::vector<int>& light, const std::vector<bool>& elsewhere,
              const Order& order) {
  const int n = static_cast<int>(light.size());
  std::map<int, double> total, alone;  // by light
  std::vector<int> able;
  for (int j = 0; j < n; ++j)
    if (!scan.refused[j] && scan.verified[j]) {
      total[light[j]] += scan.match[j];
      alone[light[j]] += scan.alone.empty() ? scan.match[j] : scan.alone[j];
      able.push_back(j);
    }
  Answer out;
  if (scan.joined >= 0) {
    out.choice = {scan.joined, PairKind::kMoment, 1};
    out.by_person = true;
  } else if (!able.empty()) {
    const int best = *std::max_element(able.begin(), able.end(), [&](int a, int b) {
      const double pa = total[light[a]], pb = total[light[b]];
      return pa != pb ? pa < pb : scan.match[a] < scan.match[b];
    });
    const bool only = total.size() == 1 && std::none_of(able.begin(), able.end(), [&](int j) {
                        return !elsewhere.empty() && elsewhere[j];
                      });
    const double most = only && scan.log_ratio[best] >= kNoDoubt ? 0.999 : kMostConfidence;
    double all = 0;
    for (const auto& [l, p] : total) all += p;
    const double stated = total[light[best]], pictures = alone[light[best]];
    const bool several = total.size() > 1;
    if (stated >= kClaim && (!several || order.untouched >= 0.5 || pictures >= kOfPictures)) {
      out.choice = {best, PairKind::kMoment, std::min(stated, most)};
      out.by_order = pictures < (several ? kOfPictures : stated >= kSureAnswer ? kSureAnswer : kClaim);
    } else
      out.doubtful = all >= 0.5 && total.size() > 1;
  }
  // Of its own light the likeliest frames, of other lights the best for all.
  std::map<int, int> best_of;
  for (int j : able)
    if (const auto [it, fresh] = best_of.emplace(light[j], j);
        !fresh && scan.match[j] > scan.match[it->second])
      it->second = j;
  const int own = out.choice.frame >= 0 ? light[out.choice.frame] : -1;
  for (int j : able)
    if (j != out.choice.frame && (light[j] == own || best_of[light[j]] == j))
      out.others.push_back({j, PairKind::kMoment,
                            std::min(light[j] == own ? scan.match[j] : total[light[j]], kMostConfidence)});
  return out;
}

int Likest(const ScanView& scan, const std::vector<int>& light, int wanted) {
  int best = -1;
  for (int j = 0; j < static_cast<int>(light.size()); ++j)
    if (light[j] == wanted && !scan.refused[j] && (best < 0 || scan.likeness[j] > scan.likeness[best]))
      best = j;
  return best;
}

}  // namespace

std::vector<Answer> Decide(const std::vector<ScanView>& roll, const std::vector<int>& light,
                           const std::vector<double>& time_s, const std::vector<bool>& elsewhere,
                           const Order& order) {
  const int n = static_cast<int>(roll.size());
  std::vector<Answer> out;
  for (const ScanView& scan : roll) {
    out.push_back(Moment(scan, light, elsewhere, order));
    for (std::size_t j = 0; j < scan.refused.size(); ++j)
      if (scan.refused[j]) out.back().by_person = true;
  }
  const std::vector<Answer> moments = out;
  const auto neighbour = [&](int i, int step) {
    for (int k = i + step; k >= 0 && k < n; k += step)
      if (moments[k].choice.kind == PairKind::kMoment && moments[k].choice.confidence >= kSure)
        return moments[k].choice.frame;
    return -1;
  };
  for (int i = 0; i < n; ++i) {
    Answer& answer = out[i];
    if (answer.choice.kind == PairKind::kNone) {
      double moment = 0;
      for (const Choice& c : answer.others) moment += c.confidence;
      const int before = neighbour(i, -1), after = neighbour(i, 1);
      Choice same;
      if (answer.doubtful) {
        // The order of the roll has been weighed already.
      } else if (before >= 0 && after >= 0 && light[before] == light[after]) {
        const double apart = std::abs(time_s[before] - time_s[after]);
        const double trust = std::isnan(apart) || apart <= kNear_s ? kBetween : kBetween * kNear_s / apart;
        same = {Likest(roll[i], light, light[before]), PairKind::kLight, order.in_order * trust};
      } else if (before >= 0 || after >= 0) {
        const int one = before >= 0 ? before : after;
        same = {Likest(roll[i], light, light[one]), PairKind::kLight, order.in_order * kBeside};
      }
      if (same.frame >= 0 && same.confidence >= 0.5)
        answer.choice = same;
      else {
        answer.choice.confidence = std::clamp(1 - std::max(moment, same.confidence), 0.05, kMostConfidence);
        if (same.frame >= 0) answer.others.push_back(same);
      }
    }
    std::stable_sort(answer.others.begin(), answer.others.end(),
                     [](const Choice& x, const Choice& y) { return x.confidence > y.confidence; });
    if (answer.others.size() > 3) answer.others.resize(3);
  }
  return out;
}

}  // namespace samelight::pair
