#include "pair/look_closely.h"

#include <algorithm>

#include "base/task_pool.h"
#include "pair/correspond.h"
#include "pair/evidence.h"
#include "pair/pose.h"

namespace samelight::pair {
namespace {
constexpr int kScanFeatures = 1000;
constexpr int kPoseCells = 400;  // enough to see who moved
}  // namespace

Verified VerifyOrRecall(const View& scan, const View& frame, Kept& kept) {
  return kept.Verification(Kept::kScanAndFrame, scan.hash, frame.hash,
                           [&] { return Verify(scan, frame, kScanFeatures); });
}

CellJob Job(const Item& a, const View& va, const Item& b, const View& vb, const Verified& verified,
            int most) {
  return {a.photo->id,
          b.photo->id,
          va.hash,
          vb.hash,
          va.width,
          va.height,
          vb.width,
          vb.height,
          verified,
          most,
          a.photo->role == record::Role::kScan};
}

std::vector<std::vector<Shown>> LookClosely(const Request& request, const std::vector<View>& scans,
                                            const std::vector<View>& frames,
                                            const std::vector<std::vector<int>>& candidates, Kept& kept,
                                            Progress& progress, const Cancel& cancel) {
  std::vector<std::vector<Shown>> out(scans.size());
  progress.Begin("verifying pairs", static_cast<long>(scans.size()));
  ParallelFor(scans.size(), cancel, [&](std::size_t i) {
    for (int f : candidates[i]) out[i].push_back({f, VerifyOrRecall(scans[i], frames[f], kept)});
    progress.Advance(1);
  });
  progress.End();
  if (cancel.requested()) return out;

  std::vector<CellJob> jobs;
  std::vector<std::vector<std::size_t>> jobs_of(scans.size()), tried_of(scans.size());
  for (std::size_t i = 0; i < scans.size(); ++i) {
    for (std::size_t k = 0; k < out[i].size(); ++k)
      if (Verifies(out[i][k].verified)) tried_of[i].push_back(k);
    if (tried_of[i].size() < 2) continue;
    for (std::size_t k : tried_of[i]) {
      const Shown& t = out[i][k];
      jobs_of[i].push_back(jobs.size());
      jobs.push_back(
          Job(request.scans[i], scans[i], request.frames[t.frame], frames[t.frame], t.verified, kPoseCells));
    }
  }
  const std::vector<record::Correspondence> done =
      Correspond("comparing closely", jobs, request.load, kept, progress, cancel);
  if (cancel.requested()) return out;
  ParallelFor(scans.size(), cancel, [&](std::size_t i) {
    std::vector<Other> others;
    for (std::size_t j : jobs_of[i]) {
      const Shown& t = out[i][tried_of[i][others.size()]];
      others.push_back({&t.verified, &done[j].cells, frames[t.frame]});
    }
    const Poses poses = PosesOf(scans[i], others);
    std::vector<double> logs;
    for (const Pose& p : poses.of) logs.push_back(PoseLog(p));
    const std::vector<double> behind = BehindTheLikeliest(logs, PosesTell(poses.apart));
    for (std::size_t k = 0; k < behind.size(); ++k) out[i][tried_of[i][k]].behind = behind[k];
  });
  return out;
}

}  // namespace samelight::pair
