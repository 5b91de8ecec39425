#include "base/task_pool.h"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <mutex>
#include <set>
#include <thread>
#include <vector>

namespace samelight {
namespace {

TEST(ParallelFor, CallsEachOnce) {
  for (const std::size_t count : {0, 1, 2, 1000}) {
    std::vector<std::atomic<int>> calls(count);
    EXPECT_TRUE(ParallelFor(count, Cancel(), [&](std::size_t i) { ++calls[i]; }));
    for (const auto& c : calls) EXPECT_EQ(c.load(), 1);
  }
}

TEST(ParallelFor, UsesNoMoreThreadsThanWorkers) {
  SetWorkers(2);
  EXPECT_EQ(Workers(), 2);
  std::atomic<int> now{0}, most{0};
  ParallelFor(64, Cancel(), [&](std::size_t) {
    const int here = ++now;
    int seen = most.load();
    while (seen < here && !most.compare_exchange_weak(seen, here)) {
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
    --now;
  });
  EXPECT_LE(most.load(), 2);
  SetWorkers(0);
  EXPECT_GE(Workers(), 1);
}

TEST(ParallelFor, StartsNothingOnceCancelled) {
  SetWorkers(2);
  Cancel cancel;
  std::atomic<int> started{0};
  EXPECT_FALSE(ParallelFor(10'000, cancel, [&](std::size_t) {
    if (++started == 5) cancel.Request();
  }));
  // The fifth asks to stop; the other worker may already have started one.
  EXPECT_LE(started.load(), 6);
  started = 0;
  EXPECT_FALSE(ParallelFor(10, cancel, [&](std::size_t) { ++started; }));
  EXPECT_EQ(started.load(), 0);
  SetWorkers(0);
}

TEST(ParallelFor, MayBeCalledFromItself) {
  std::atomic<int> calls{0};
  EXPECT_TRUE(ParallelFor(4, Cancel(),
                          [&](std::size_t) { ParallelFor(8, Cancel(), [&](std::size_t) { ++calls; }); }));
  EXPECT_EQ(calls.load(), 32);
}

TEST(Cancel, CopiesShareTheRequest) {
  const Cancel one;
  const Cancel other = one;
  EXPECT_FALSE(other.requested());
  std::thread([one] { one.Request(); }).join();
  EXPECT_TRUE(other.requested());
  EXPECT_FALSE(Cancel().requested());
}

}  // namespace
}  // namespace samelight
