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

class LargeMemoryTest : public DeliveryTest {
 protected:
  // Delivers what lies in the folder in a process of its own; its peak in MiB.
  double PeakMib(int setting_mib, int frames, const std::string& format) const {
    const pid_t child = ::fork();
    if (child == 0) {
      ::setenv("SAMELIGHT_TEST_FOLDER", folder_.c_str(), 1);
      ::setenv("SAMELIGHT_TEST_MIB", std::to_string(setting_mib).c_str(), 1);
      ::setenv("SAMELIGHT_TEST_FRAMES", std::to_string(frames).c_str(), 1);
      ::setenv("SAMELIGHT_TEST_FORMAT", format.c_str(), 1);
      ::execl("/proc/self/exe", "job_test", "--gtest_filter=MemoryChild.DISABLED_Delivers",
              "--gtest_also_run_disabled_tests", nullptr);
      ::_exit(127);
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    EXPECT_EQ(status, 0);
    double peak_kib = 0;
    std::ifstream(folder_ / "peak") >> peak_kib;
    std::printf("100 megapixels to %s: %.0f MiB at most of %d\n", format.c_str(), peak_kib / 1024,
                setting_mib);
    return peak_kib / 1024;
  }
};

// Only run by the tests below.
class MemoryChild : public DeliveryTest {
  void SetUp() override {}
  void TearDown() override {}
};
TEST_F(MemoryChild, DISABLED_Delivers) {
  const char* folder = std::getenv("SAMELIGHT_TEST_FOLDER");
  if (folder == nullptr) GTEST_SKIP() << "part of another test";
  folder_ = folder;
  SetWorkers(2);
  DeliverOptions options;
  options.memory_mib = static_cast<std::uint64_t>(std::atoi(std::getenv("SAMELIGHT_TEST_MIB")));
  options.fields = {{"format", std::getenv("SAMELIGHT_TEST_FORMAT")}};
  const auto answer = Deliver(options);
  ASSERT_TRUE(answer.ok() && answer->problems.empty());
  ASSERT_EQ(answer->written, std::atoi(std::getenv("SAMELIGHT_TEST_FRAMES")));
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);)
    if (line.starts_with("VmHWM:")) std::ofstream(folder_ / "peak") << line.substr(6);
}

// Of all settings below: less than two pictures are thought to need, so that they go one after the other.
constexpr int kSettingMib = 4600;
constexpr double kFloatMib = 12.0 * kWidth * kHeight / (1 << 20);

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
  const double peak_mib = PeakMib(kSettingMib, 3, "jpeg");
  EXPECT_GT(peak_mib, kFloatMib) << "one picture in float at least";
  EXPECT_LT(peak_mib, kSettingMib);
}

// 16 bits in and out, of contents that hardly compress: files as large as their pixels. Takes minutes:
// scripts/nightly memory.
TEST_F(LargeMemoryTest, DISABLED_SixteenBitsToo) {
  {
    image::RgbU16 picture(kWidth, kHeight);
    std::uint32_t dice = 1;
    for (std::uint16_t& v : picture.data())
      v = static_cast<std::uint16_t>((dice = dice * 1664525u + 1013904223u) >> 17);
    codec::WriteOptions options;
    options.format = codec::Format::kTiff16;
    fs::create_directories(folder_ / "digital");
    ASSERT_TRUE(codec::WritePicture(folder_ / "digital" / "P9.tif", picture, options).ok());
  }
  fs::copy(folder_ / "digital" / "P9.tif", folder_ / "digital" / "P8.tif");
  Make(0, 0);
  for (const std::string format : {"tiff16", "png16"}) {
    const double peak_mib = PeakMib(kSettingMib, 2, format);
    EXPECT_GT(peak_mib, kFloatMib);
    EXPECT_LT(peak_mib, kSettingMib);
    std::error_code ignored;
    fs::remove_all(out(), ignored);
  }
}

}  // namespace
}  // namespace samelight::job
