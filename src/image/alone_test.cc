#include "image/alone.h"

#include <gtest/gtest.h>

#include <opencv2/core.hpp>
#include <thread>
#include <vector>

namespace samelight::image {
namespace {

TEST(WorkAlone, HoldsWhoeverAsksFirst) {
  std::vector<std::thread> threads;
  for (int i = 0; i < 8; ++i) threads.emplace_back([] { WorkAlone(); });
  for (std::thread& t : threads) t.join();
  EXPECT_EQ(cv::getNumThreads(), 1);
}

}  // namespace
}  // namespace samelight::image
