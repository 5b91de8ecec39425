#include "pair/cuts.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/median.h"

namespace samelight::pair {
namespace {

constexpr int kLinkReach = 20;            // frames over which links are counted,
constexpr double kLinkPause_s = 30 * 60;  // and the longest time
constexpr double kShort_s = 60;           // pauses inside one moment are shorter (common practice)
constexpr int kRounds = 8;
constexpr double kMost = 8;  // nats that the pause, or the links, can say

constexpr double kWidth = 0.25, kLeastWidth = 0.05;  // of the kernel, in natural logarithms of pauses

// What is usual, and the number of steps that it weighs (from memory): bursts and moments of a few frames,
// moments minutes apart; a light of some thirty frames; to another place in twenty minutes, times or divided
// by 2.7.
constexpr double kUsualPauses = 12, kUsualChange = 1.0 / 30, kChangeWeight = 30;
constexpr double kHabitWeight = 6;
const double kWay = std::log(20 * 60.0), kWaySpread = 1.0;

double Normal(double x, double mean, double spread) {
  const double d = (x - mean) / spread;
  return std::exp(-0.5 * d * d) / (spread * std::sqrt(2 * M_PI));
}

double LogPause(double pause_s) { return std::log(std::max(0.5, pause_s)); }

// Density of log pauses inside one light: a kernel estimate from the steps that links cross, with the width
// after Silverman ("Density Estimation", 1986, eq. 3.31) of those that are long, since it is their end that
// is asked for.
class Staying {
 public:
  explicit Staying(const std::vector<Step>& steps) {
    std::vector<double> longer;
    for (const Step& s : steps)
      if (s.pause_s && s.crossing > 0) {
        seen_.push_back(LogPause(*s.pause_s));
        if (*s.pause_s >= kShort_s) longer.push_back(seen_.back());
      }
    if (longer.size() < 2) return;
    double mean = 0, squares = 0;
    for (double x : longer) mean += x / static_cast<double>(longer.size());
    for (double x : longer) squares += (x - mean) * (x - mean);
    const double count = static_cast<double>(longer.size());
    const double rule = 0.9 * std::sqrt(squares / (count - 1)) * std::pow(count, -0.2);
    width_ = std::clamp(rule, kLeastWidth, kWidth);
  }
  double Density(double pause_s) const {
    const double x = LogPause(pause_s);
    double sum = kUsualPauses * (0.6 * Normal(x, std::log(12.0), 1) + 0.4 * Normal(x, std::log(150.0), 0.8));
    for (double y : seen_) sum += Normal(x, y, width_);
    return sum / (kUsualPauses + static_cast<double>(seen_.size()));
  }

 private:
  std::vector<double> seen_;
  double width_ = kWidth;
};

}  // namespace

std::vector<Link> NearLinks(const std::vector<Moment>& moments, const std::vector<Link>& links) {
  std::vector<Link> out;
  for (const Link& l : links) {
    const int low = std::min(l.first, l.second), high = std::max(l.first, l.second);
    const auto &first = moments[low].time_s, &last = moments[high].time_s;
    if (high - low > kLinkReach || (first && last && std::abs(*last - *first) > kLinkPause_s)) continue;
    out.emplace_back(low, high);
  }
  return out;
}

std::vector<Step> StepsOf(const std::vector<Moment>& moments, const std::vector<Link>& links) {
  if (moments.size() < 2) return {};
  std::vector<Step> out(moments.size() - 1);
  for (std::size_t i = 0; i < out.size(); ++i)
    if (moments[i].time_s && moments[i + 1].time_s)
      out[i].pause_s = std::abs(*moments[i + 1].time_s - *moments[i].time_s);
  for (const auto& [low, high] : NearLinks(moments, links))
    for (int i = low; i < high; ++i) ++out[i].crossing;
  return out;
}

std::vector<Crossed> HowCrossed(const std::vector<Step>& steps) {
  std::vector<int> counts;
  for (const Step& s : steps)
    if (s.crossing > 0) counts.push_back(s.crossing);
  std::vector<Crossed> out(steps.size(), Crossed::kNone);
  if (counts.empty()) return out;
  const int usual = Median(counts);
  for (std::size_t i = 0; i < steps.size(); ++i)
    if (steps[i].crossing > 0) out[i] = 4 * steps[i].crossing <= usual ? Crossed::kFew : Crossed::kUsual;
  return out;
}

std::vector<double> ChangeLogOdds(const std::vector<Step>& steps) {
  const std::size_t n = steps.size();
  std::vector<double> odds(n, std::log(kUsualChange / (1 - kUsualChange)));
  const std::vector<Crossed> crossed = HowCrossed(steps);
  const bool linked = std::any_of(steps.begin(), steps.end(), [](const Step& s) { return s.crossing > 0; });
  const Staying staying(steps);
  std::vector<double> of_pause(n, 0);
  std::vector<int> is_long(n, 0);
  for (std::size_t i = 0; i < n; ++i) {
    is_long[i] = steps[i].pause_s && *steps[i].pause_s >= kShort_s;
    if (!steps[i].pause_s) continue;
    const double change = Normal(LogPause(std::min(*steps[i].pause_s, 1200.0)), kWay, kWaySpread);
    of_pause[i] =
        std::clamp(std::log(change / std::max(1e-12, staying.Density(*steps[i].pause_s))), -kMost, kMost);
  }
  // Habits: [pause is long][links], and how often the light changes.
  using Habit = std::array<std::array<double, 3>, 2>;
  const Habit usual_stay{{{0.1, 0.1, 0.8}, {0.1, 0.1, 0.8}}},
      usual_change{{{0.8, 0.15, 0.05}, {0.8, 0.15, 0.05}}};
  Habit stay = usual_stay, change = usual_change;
  double rate = kUsualChange;
  for (int round = 0; round < kRounds; ++round) {
    Habit stays{}, changes{};
    double total = 0;
    for (std::size_t i = 0; i < n; ++i) {
      const int p = is_long[i], k = static_cast<int>(crossed[i]);
      const double says = linked ? std::log(change[p][k] / stay[p][k]) : 0;
      odds[i] = std::log(rate / (1 - rate)) + of_pause[i] + std::clamp(says, -kMost, kMost);
      const double probability = 1 / (1 + std::exp(-odds[i]));
      changes[p][k] += probability;
      stays[p][k] += 1 - probability;
      total += probability;
    }
    rate = (kUsualChange * kChangeWeight + total) / (kChangeWeight + static_cast<double>(n));
    for (int p = 0; p < 2; ++p) {
      const auto learn = [&](Habit& habit, const Habit& before, const Habit& seen) {
        const double all = seen[p][0] + seen[p][1] + seen[p][2];
        for (int k = 0; k < 3; ++k)
          habit[p][k] = (kHabitWeight * before[p][k] + seen[p][k]) / (kHabitWeight + all);
      };
      learn(stay, usual_stay, stays);
      learn(change, usual_change, changes);
    }
  }
  return odds;
}

}  // namespace samelight::pair
