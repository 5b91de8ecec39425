#include "pair/across.h"

#include <algorithm>

#include "pair/cuts.h"

namespace samelight::pair {
namespace {
constexpr int kEachSide = 6;  // two moments of three frames
}  // namespace

std::set<std::pair<int, int>> AcrossSteps(const Timeline& timeline, const std::vector<FrameLink>& links) {
  const int n = static_cast<int>(timeline.order.size());
  std::vector<Moment> moments(n);
  std::vector<int> place(n);
  for (int p = 0; p < n; ++p) {
    place[timeline.order[p]] = p;
    moments[p].time_s = timeline.time_s[timeline.order[p]];
  }
  std::vector<Link> known;
  for (const FrameLink& l : links) known.emplace_back(place[l.a], place[l.b]);
  const std::vector<Crossed> crossed = HowCrossed(StepsOf(moments, known));
  std::set<std::pair<int, int>> out;
  for (int i = 0; i + 1 < n; ++i) {
    if (crossed[i] == Crossed::kUsual) continue;
    std::vector<Link> pairs;
    for (int a = std::max(0, i + 1 - kEachSide); a <= i; ++a)
      for (int b = i + 1; b < std::min(n, i + 1 + kEachSide); ++b) pairs.emplace_back(a, b);
    for (const auto& [a, b] : NearLinks(moments, pairs))
      out.insert(std::minmax(timeline.order[a], timeline.order[b]));
  }
  return out;
}

}  // namespace samelight::pair
