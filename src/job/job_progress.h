// How far the job in work is, for who asks now and then.
#pragma once

#include <chrono>
#include <functional>
#include <mutex>
#include <optional>
#include <string>

#include "base/progress.h"

namespace samelight::job {

class JobProgress final : public Progress {
 public:
  // `moved` is called at most ten times a second, from any thread.
  explicit JobProgress(std::function<void()> moved) : moved_(std::move(moved)) {}
  void Begin(const std::string& name, long total) override;
  void Advance(long steps) override;
  void End() override;

  struct State {
    std::string stage;
    long done = 0, total = 0;
    std::optional<double> seconds_left;  // from the pace so far; absent in the first second
  };
  State Now() const;

 private:
  using Clock = std::chrono::steady_clock;
  std::function<void()> moved_;
  mutable std::mutex mutex_;
  std::string stage_;
  long done_ = 0, total_ = 0;
  Clock::time_point begun_, told_;
};

}  // namespace samelight::job
