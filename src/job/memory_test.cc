// Pictures of 100 megapixels within the memory that was set, everything of the process included: decoders,
// LibRaw, pixels, encoded files. Measured by the kernel in a process of its own (VmHWM, proc(5)).
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>

#include "base/task_pool.h"
#include "codec/dng.h"
#include "job/delivery_testing.h"

namespace samelight::job {
namespace {

using testing::DeliveryTest;

constexpr int kWidth = 12000, kHeight = 8400;

class LargeMemoryTest : public DeliveryTest {};

// Only run by the test below.
class MemoryChild : public DeliveryTest {
  void SetUp() override {}
  void TearDown() override {}
};
TEST_F(MemoryChild, DISABLED_Delivers) {
  const char *folder = std::getenv("SAMELIGHT_TEST_FOLDER"), *mib = std::getenv("SAMELIGHT_TEST_MIB");
  if (folder == nullptr || mib == nullptr) GTEST_SKIP() << "part of another test";
  folder_ = folder;
  SetWorkers(2);
  DeliverOptions options;
  options.memory_mib = static_cast<std::uint64_t>(std::atoi(mib));
  const auto answer = Deliver(options);
  ASSERT_TRUE(answer.ok() && answer->problems.empty() && answer->written == 3);
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);)
    if (line.starts_with("VmHWM:")) std::ofstream(folder_ / "peak") << line.substr(6);
}

TEST_F(LargeMemoryTest, HundredMegapixelsStayWithinTheSetting) {
  {
    image::Raster<std::uint16_t, 1> mosaic(kWidth, kHeight);
    for (std::size_t i = 0; i < mosaic.data().size(); ++i)
      mosaic.data()[i] = static_cast<std::uint16_t>(600 + (37 * i) % 9000);
    codec::DngSpec spec;
    spec.capture.body = "Body";
    fs::create_directories(folder_ / "digital");
    ASSERT_TRUE(codec::WriteDng(folder_ / "digital" / "P9.dng", mosaic, spec).ok());
  }
  Make(2, 0, kWidth, kHeight);
  // Less than two of them are thought to need, more than one does: they go one after the other.
  const int setting_mib = 4600;
  const pid_t child = ::fork();
  if (child == 0) {
    ::setenv("SAMELIGHT_TEST_FOLDER", folder_.c_str(), 1);
    ::setenv("SAMELIGHT_TEST_MIB", std::to_string(setting_mib).c_str(), 1);
    ::execl("/proc/self/exe", "job_test", "--gtest_filter=MemoryChild.DISABLED_Delivers",
            "--gtest_also_run_disabled_tests", nullptr);
    ::_exit(127);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  ASSERT_EQ(status, 0);
  double peak_kib = 0;
  std::ifstream(folder_ / "peak") >> peak_kib;
  RecordProperty("peak_MiB", static_cast<int>(peak_kib / 1024));
  std::printf("100 megapixels: %.0f MiB at most of %d\n", peak_kib / 1024, setting_mib);
  EXPECT_GT(peak_kib / 1024, 12.0 * kWidth * kHeight / (1 << 20)) << "one picture in float at least";
  EXPECT_LT(peak_kib / 1024, setting_mib);
}

}  // namespace
}  // namespace samelight::job
