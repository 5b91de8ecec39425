// How far a job is, on the error output: one line that renews itself on a terminal, plain lines otherwise.
#pragma once

#include <chrono>
#include <mutex>
#include <string>

#include "base/progress.h"

namespace samelight::cli {

class ProgressLines final : public Progress {
 public:
  explicit ProgressLines(bool terminal) : terminal_(terminal) {}
  ~ProgressLines() override;
  void Begin(const std::string& name, long total) override;
  void Advance(long steps) override;
  void End() override;

 private:
  using Clock = std::chrono::steady_clock;
  void Draw(Clock::time_point now);
  void Wipe();

  std::mutex mutex_;
  const bool terminal_;
  std::string name_;
  long total_ = 0, done_ = 0;
  Clock::time_point begun_, drawn_;
  bool drawn_line_ = false;
};

// "1:05 left"; empty while nothing can be said (less than `done` = 1 or 1 second).
std::string TimeLeft(double seconds_so_far, long done, long total);

}  // namespace samelight::cli
