#include "base/task_pool.h"

#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include <memory>
#include <thread>

namespace samelight {
namespace {
int g_workers = 0;
}  // namespace

int Workers() {
  if (g_workers > 0) return g_workers;
  // Asked once: the system answers by reading a file, and a fit asks thousands of times.
  static const unsigned cores = std::thread::hardware_concurrency();
  return cores == 0 ? 1 : static_cast<int>(cores);
}

void SetWorkers(int count) {
  g_workers = count;
  // Without this the library starts no more threads than there are cores, and says so on the error output.
  static std::unique_ptr<tbb::global_control> most;
  most = nullptr;
  if (count > 0)
    most = std::make_unique<tbb::global_control>(tbb::global_control::max_allowed_parallelism,
                                                 static_cast<std::size_t>(count));
}

bool ParallelFor(std::size_t count, const Cancel& cancel, const std::function<void(std::size_t)>& body) {
  tbb::task_arena arena(Workers());
  arena.execute([&] {
    tbb::parallel_for(
        tbb::blocked_range<std::size_t>(0, count, 1),
        [&](const tbb::blocked_range<std::size_t>& range) {
          for (std::size_t i = range.begin(); i != range.end(); ++i) {
            if (cancel.requested()) return;
            body(i);
          }
        },
        tbb::simple_partitioner());
  });
  return !cancel.requested();
}

}  // namespace samelight
