#include "job/job_progress.h"

#include <algorithm>

namespace samelight::job {
namespace {
constexpr auto kTell = std::chrono::milliseconds(100);
}

void JobProgress::Begin(const std::string& name, long total) {
  {
    const std::lock_guard lock(mutex_);
    stage_ = name;
    total_ = std::max(0l, total);
    done_ = 0;
    begun_ = told_ = Clock::now();
  }
  moved_();
}

void JobProgress::Advance(long steps) {
  {
    const std::lock_guard lock(mutex_);
    done_ += steps;
    const Clock::time_point now = Clock::now();
    if (now - told_ < kTell) return;
    told_ = now;
  }
  moved_();
}

void JobProgress::End() { moved_(); }

JobProgress::State JobProgress::Now() const {
  const std::lock_guard lock(mutex_);
  State state{stage_, std::min(done_, total_), total_, std::nullopt};
  const double seconds = std::chrono::duration<double>(Clock::now() - begun_).count();
  if (done_ > 0 && total_ >= done_ && seconds >= 1)
    state.seconds_left = seconds / static_cast<double>(done_) * static_cast<double>(total_ - done_);
  return state;
}

}  // namespace samelight::job
