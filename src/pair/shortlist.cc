#include "pair/shortlist.h"

#include <algorithm>
#include <map>
#include <mutex>
#include <numeric>
#include <optional>

#include "base/task_pool.h"

namespace samelight::pair {
namespace {
constexpr int kScanFeatures = 256, kFrameFeatures = 512;
constexpr float kLooseRatio = 0.85f;
constexpr std::size_t kBestOfAll = 12;
constexpr int kBestOfLight = 10;
constexpr double kPromising = 2.5, kPromisingShare = 0.25;
}  // namespace

double GlobalSimilarity(const measure::Features& a, const measure::Features& b) {
  if (a.global.size() != b.global.size()) return 0;
  double sum = 0;
  for (std::size_t i = 0; i < a.global.size(); ++i) sum += static_cast<double>(a.global[i]) * b.global[i];
  return sum;
}

std::vector<std::vector<double>> CompareCheaply(const std::vector<View>& scans,
                                                const std::vector<View>& frames, Kept& kept,
                                                Progress& progress, const Cancel& cancel) {
  std::vector<std::optional<QuerySide>> plain(scans.size()), mirrored(scans.size());
  std::vector<std::once_flag> sides(scans.size());
  std::vector<std::vector<double>> score(scans.size(), std::vector<double>(frames.size(), 0));
  progress.Begin("comparing scans with frames", static_cast<long>(frames.size()));
  ParallelFor(frames.size(), cancel, [&](std::size_t j) {
    std::optional<TargetSide> target;
    for (std::size_t i = 0; i < scans.size(); ++i) {
      const double agreement = kept.Likeness(scans[i].hash, frames[j].hash, [&] {
        if (!target) target.emplace(*frames[j].features, kFrameFeatures);
        std::call_once(sides[i], [&] {
          plain[i].emplace(*scans[i].features, kScanFeatures, false);
          mirrored[i].emplace(*scans[i].features, kScanFeatures, true);
        });
        return std::max(Agree(scans[i], frames[j], target->Find(*plain[i], kLooseRatio), false).evidence,
                        Agree(scans[i], frames[j], target->Find(*mirrored[i], kLooseRatio), true).evidence);
      });
      score[i][j] = std::max(0.0, agreement) + 2 * GlobalSimilarity(*scans[i].features, *frames[j].features);
    }
    progress.Advance(1);
  });
  progress.End();
  return score;
}

std::vector<int> Shortlist(const std::vector<double>& score, const std::vector<int>& light) {
  std::vector<int> order(score.size());
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return score[a] > score[b]; });
  std::vector<int> out;
  std::map<int, int> taken;
  for (std::size_t rank = 0; rank < order.size(); ++rank) {
    const int f = order[rank];
    const bool may_be = score[f] >= std::max(kPromising, kPromisingShare * score[order[0]]);
    if (rank >= kBestOfAll && !(may_be && taken[light[f]] < kBestOfLight)) continue;
    ++taken[light[f]];
    out.push_back(f);
  }
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace samelight::pair
