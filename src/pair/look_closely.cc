#include "pair/look_closely.h"

#include <algorithm>

#include "base/task_pool.h"
#include "pair/correspond.h"
#include "pair/evidence.h"
#include "pair/pose.h"

namespace samelight::pair {
namespace {
constexpr int kPoseCells = 400;  // enough to see who moved
}  // namespace

CellJob Job(const Item& a, const View& va, const Item& b, const View& vb, const Verified& verified,
            int most) {
  return {a.photo->id, b.photo->id, va.width, va.height, vb.width, vb.height, verified, most};
}

std::vector<std::vector<Shown>> LookClosely(const Request& request, const std::vector<View>& scans,
                                            const std::vector<View>& frames,
                                            const std::vector<std::vector<int>>& candidates,
                                            Progress& progress, const Cancel& cancel) {
  std::vector<std::vector<Shown>> out(scans.size());
  progress.Begin("verifying pairs", static_cast<long>(scans.size()));
  ParallelFor(scans.size(), cancel, [&](std::size_t i) {
    for (int f : candidates[i]) out[i].push_back({f, Verify(scans[i], frames[f], kScanFeatures)});
    progress.Advance(1);
  });
  progress.End();
  if (cancel.requested()) return out;

  std::vector<CellJob> jobs;
  std::vector<std::pair<std::size_t, Shown*>> of_job;  // scan
  for (std::size_t i = 0; i < scans.size(); ++i) {
    if (std::count_if(out[i].begin(), out[i].end(), [](const Shown& t) { return Verifies(t.verified); }) < 2)
      continue;
    for (Shown& t : out[i]) {
      if (!Verifies(t.verified)) continue;
      jobs.push_back(
          Job(request.scans[i], scans[i], request.frames[t.frame], frames[t.frame], t.verified, kPoseCells));
      of_job.emplace_back(i, &t);
    }
  }
  const std::vector<record::Correspondence> done =
      Correspond("comparing closely", jobs, request.load, progress, cancel);
  if (cancel.requested()) return out;
  ParallelFor(jobs.size(), cancel, [&](std::size_t k) {
    auto& [i, t] = of_job[k];
    t->pose = PoseLog(PoseOf(scans[i], frames[t->frame], t->verified, done[k].cells));
  });
  return out;
}

}  // namespace samelight::pair
