#include "base/modest.h"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>
#include <thread>

namespace samelight {
namespace {

int Priority() { return ::getpriority(PRIO_PROCESS, static_cast<id_t>(::syscall(SYS_gettid))); }

TEST(Modest, OneThreadGivesWayAndTheOthersStayAsTheyAre) {
  const int before = Priority();
  int there = 0, below = 0;
  std::thread worker([&] {
    BeModest();
    there = Priority();
    std::thread([&] { below = Priority(); }).join();
  });
  worker.join();
  EXPECT_EQ(there, std::min(before + 5, 19)) << "19 is the least that there is";
  EXPECT_EQ(below, there) << "what it starts follows it";
  EXPECT_EQ(Priority(), before);
}

}  // namespace
}  // namespace samelight
