#include "pair/frame_graph.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <tuple>

#include "base/task_pool.h"
#include "pair/clock.h"
#include "pair/evidence.h"
#include "pair/shortlist.h"
#include "pair/timeline.h"

namespace samelight::pair {
namespace {
constexpr int kFeatures = 600;
constexpr int kNextInOrder = 2;  // following frames of the same body
constexpr int kLikest = 4;       // by the global vector, among all
constexpr int kLikestOther = 3;  // among those of another body, and among those of another source
}  // namespace

std::vector<FrameLink> LinkFrames(const std::vector<View>& frames,
                                  const std::vector<const record::Photo*>& photos, Kept& kept,
                                  Progress& progress, const Cancel& cancel) {
  const int n = static_cast<int>(frames.size());
  std::vector<std::string> body(n), source(n);
  for (int i = 0; i < n; ++i) {
    body[i] = BodyName(*photos[i]);
    source[i] = record::SourceName(*photos[i]);
  }
  std::vector<std::vector<int>> likest(n);
  progress.Begin("comparing frames", n);
  ParallelFor(n, cancel, [&](std::size_t i) {
    std::vector<std::pair<double, int>> all;
    for (int j = 0; j < n; ++j)
      if (j != static_cast<int>(i))
        all.emplace_back(-GlobalSimilarity(*frames[i].features, *frames[j].features), j);
    std::sort(all.begin(), all.end());
    std::set<int> chosen;
    int any = 0, other_body = 0, other_source = 0;
    for (const auto& [likeness, j] : all) {
      const bool take_any = any < kLikest, foreign = body[j] != body[i], mixed = source[j] != source[i];
      if (take_any || (foreign && other_body < kLikestOther) || (mixed && other_source < kLikestOther)) {
        chosen.insert(j);
        ++any;
        other_body += foreign;
        other_source += mixed;
      }
    }
    likest[i].assign(chosen.begin(), chosen.end());
    progress.Advance(1);
  });
  progress.End();

  std::set<std::pair<int, int>> candidates;
  for (int i = 0; i < n; ++i)
    for (int j : likest[i]) candidates.insert(std::minmax(i, j));
  std::map<std::string, std::vector<int>> of_body;
  for (int i = 0; i < n; ++i) of_body[body[i]].push_back(i);
  for (auto& [name, members] : of_body) {
    std::stable_sort(members.begin(), members.end(), [&](int a, int b) {
      const auto ta = photos[a]->capture.time_us, tb = photos[b]->capture.time_us;
      if (ta && tb && *ta != *tb) return *ta < *tb;
      if (ta.has_value() != tb.has_value()) return ta.has_value();
      return NaturalLess(photos[a]->path, photos[b]->path);
    });
    for (std::size_t k = 0; k < members.size(); ++k)
      for (std::size_t d = 1; d <= kNextInOrder && k + d < members.size(); ++d)
        candidates.insert(std::minmax(members[k], members[k + d]));
  }

  std::vector<FrameLink> out;
  VerifyLinks(frames, candidates, out, kept, progress, cancel);
  return out;
}

void VerifyLinks(const std::vector<View>& frames, const std::set<std::pair<int, int>>& pairs,
                 std::vector<FrameLink>& links, Kept& kept, Progress& progress, const Cancel& cancel) {
  std::set<std::pair<int, int>> there;
  for (const FrameLink& l : links) there.emplace(l.a, l.b);
  std::vector<std::vector<int>> partners(frames.size());
  for (const auto& [a, b] : pairs)
    if (!there.count({a, b})) partners[b].push_back(a);
  std::vector<std::vector<FrameLink>> found(frames.size());
  progress.Begin("verifying frames", static_cast<long>(frames.size()));
  ParallelFor(frames.size(), cancel, [&](std::size_t b) {
    if (!partners[b].empty()) {
      std::optional<TargetSide> target;
      for (int a : partners[b]) {
        Verified v = kept.Verification(Kept::kFrames, frames[a].hash, frames[b].hash, [&] {
          if (!target) target.emplace(*frames[b].features, kFeatures);
          return Agree(frames[a], frames[b], target->Find(QuerySide(*frames[a].features, kFeatures), kRatio),
                       false);
        });
        if (GoodForCells(v)) found[b].push_back({a, static_cast<int>(b), std::move(v)});
      }
    }
    progress.Advance(1);
  });
  progress.End();
  for (std::vector<FrameLink>& list : found) std::move(list.begin(), list.end(), std::back_inserter(links));
  std::sort(links.begin(), links.end(),
            [](const FrameLink& x, const FrameLink& y) { return std::tie(x.a, x.b) < std::tie(y.a, y.b); });
}

}  // namespace samelight::pair
