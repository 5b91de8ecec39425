// A stop at any point of a solve is told as one, never as a solution.
#include <gtest/gtest.h>

#include "solve/solve.h"
#include "solve/testing.h"

namespace samelight::solve {
namespace {

// Asks to stop after so many steps.
class StopAfter final : public Progress {
 public:
  StopAfter(long steps, const Cancel& cancel) : left_(steps), cancel_(cancel) {}
  void Begin(const std::string&, long) override {}
  void Advance(long steps) override {
    left_ -= steps;
    if (left_ <= 0) cancel_.Request();
  }
  void End() override {}

 private:
  long left_;
  Cancel cancel_;
};

TEST(Cancel, AStopIsToldAtEveryStep) {
  const Truth t = MakeTruth({.frames_per_light = 6, .scans_per_light = 2});
  for (const long steps : {1L, 3L}) {  // after the digital side; after the fit, with stability still to come
    const Cancel cancel;
    StopAfter progress(steps, cancel);
    const Result<Solution> solution = SolveSession(t.request, progress, cancel);
    ASSERT_FALSE(solution.ok()) << "stopped after step " << steps;
    EXPECT_EQ(solution.error().code, ErrorCode::kCancelled);
  }
}

}  // namespace
}  // namespace samelight::solve
