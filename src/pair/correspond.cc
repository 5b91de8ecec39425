#include "pair/correspond.h"

#include <algorithm>
#include <map>
#include <memory>
#include <mutex>

#include "base/task_pool.h"
#include "pair/cells.h"

namespace samelight::pair {
namespace {

// Prepared pictures, the least recently used given up first. Thread safe; two threads may prepare one picture
// twice, which costs time but changes nothing.
class Shelf {
 public:
  explicit Shelf(const std::function<Result<measure::Cached>(PhotoId)>& load) : load_(load) {}

  std::shared_ptr<const Prepared> Get(PhotoId id) {
    {
      const std::lock_guard lock(mutex_);
      const auto it = held_.find(id);
      if (it != held_.end()) {
        it->second.used = ++clock_;
        return it->second.picture;
      }
    }
    std::shared_ptr<const Prepared> picture;
    if (Result<measure::Cached> cached = load_(id))
      picture = std::make_shared<const Prepared>(Prepare(cached->analysis));
    const std::lock_guard lock(mutex_);
    held_[id] = {picture, ++clock_};
    if (held_.size() > kHeldPictures)
      held_.erase(std::min_element(held_.begin(), held_.end(), [](const auto& x, const auto& y) {
        return x.second.used < y.second.used;
      }));
    return picture;
  }

 private:
  struct Entry {
    std::shared_ptr<const Prepared> picture;
    long used = 0;
  };
  const std::function<Result<measure::Cached>(PhotoId)>& load_;
  std::mutex mutex_;
  std::map<PhotoId, Entry> held_;
  long clock_ = 0;
};

record::Correspondence MatchPlaces(const CellJob& job, Shelf& shelf) {
  record::Correspondence c;
  c.inliers = static_cast<int>(job.verified.inliers.size());
  c.mirrored = job.verified.mirrored;
  // On fractions: diag(1/w, 1/h, 1) H diag(w, h, 1).
  const Homography& h = job.verified.b_from_a;
  const double from[3] = {job.a_width, job.a_height, 1}, to[3] = {job.b_width, job.b_height, 1};
  for (int i = 0; i < 9; ++i) c.b_from_a[i] = static_cast<float>(h[i] * from[i % 3] / to[i / 3]);
  const auto a = shelf.Get(job.a), b = shelf.Get(job.b);
  if (a && b) c.cells = MatchCells(*a, *b, job.verified, job.most_cells, job.a_is_scan);
  return c;
}

}  // namespace

std::vector<record::Correspondence> Correspond(const std::string& what, const std::vector<CellJob>& jobs,
                                               const std::function<Result<measure::Cached>(PhotoId)>& load,
                                               Kept& kept, Progress& progress, const Cancel& cancel) {
  std::vector<record::Correspondence> out(jobs.size());
  Shelf shelf(load);
  progress.Begin(what, static_cast<long>(jobs.size()));
  ParallelFor(jobs.size(), cancel, [&](std::size_t k) {
    const CellJob& job = jobs[k];
    out[k] = kept.Cells(job.a_hash, job.b_hash, job.most_cells, [&] { return MatchPlaces(job, shelf); });
    out[k].a = job.a;
    out[k].b = job.b;
    progress.Advance(1);
  });
  progress.End();
  return out;
}

}  // namespace samelight::pair
