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
#include "job/memory_gate.h"

namespace samelight::job {
namespace {

using testing::DeliveryTest;

constexpr int kWidth = 12000, kHeight = 8400;

class LargeMemoryTest : public DeliveryTest {
 protected:
  // Delivers what lies in the folder in a process of its own; its peak in MiB.
  double PeakMib(int setting_mib, int workers, int frames, const std::string& format) const {
    const pid_t child = ::fork();
    if (child == 0) {
      ::setenv("SAMELIGHT_TEST_FOLDER", folder_.c_str(), 1);
      ::setenv("SAMELIGHT_TEST_MIB", std::to_string(setting_mib).c_str(), 1);
      ::setenv("SAMELIGHT_TEST_WORKERS", std::to_string(workers).c_str(), 1);
      ::setenv("SAMELIGHT_TEST_FRAMES", std::to_string(frames).c_str(), 1);
      ::setenv("SAMELIGHT_TEST_FORMAT", format.c_str(), 1);
      ::execl("/proc/self/exe", "job_test", "--gtest_filter=MemoryChild.DISABLED_Delivers",
              "--gtest_also_run_disabled_tests", "--gtest_brief=1", nullptr);
      ::_exit(127);
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    EXPECT_EQ(status, 0);
    double peak_kib = 0;
    std::ifstream(folder_ / "peak") >> peak_kib;
    return peak_kib / 1024;
  }

  // One of a smooth scene, or so many of a noise that is reduced, which takes most.
  void MakeRaw(int width, int height, int noisy = 0) const {
    image::Raster<std::uint16_t, 1> mosaic(width, height);
    std::uint32_t dice = 1;
    codec::DngSpec spec;
    spec.capture.body = "Body";
    fs::create_directories(folder_ / "digital");
    for (int file = 0; file < std::max(1, noisy); ++file) {
      for (std::size_t i = 0; i < mosaic.data().size(); ++i)
        mosaic.data()[i] = static_cast<std::uint16_t>(
            noisy > 0 ? 3000 + ((dice = dice * 1664525u + 1013904223u) >> 20) : 600 + (37 * i) % 9000);
      ASSERT_TRUE(
          codec::WriteDng(folder_ / "digital" / ("R" + std::to_string(file) + ".dng"), mosaic, spec).ok());
    }
  }
  // Of contents that hardly compress: a file as large as its pixels.
  void MakeTiff(int width, int height) const {
    image::RgbU16 picture(width, height);
    std::uint32_t dice = 1;
    for (std::uint16_t& v : picture.data())
      v = static_cast<std::uint16_t>((dice = dice * 1664525u + 1013904223u) >> 17);
    codec::WriteOptions options;
    options.format = codec::Format::kTiff16;
    fs::create_directories(folder_ / "digital");
    ASSERT_TRUE(codec::WritePicture(folder_ / "digital" / "P9.tif", picture, options).ok());
  }

  // One picture after another, above what delivering a tiny one takes: within what is thought, which is not
  // much more. Of raw files the second meets the buffers of the first.
  void EstimateHolds(const std::string& kind, const std::string& format, int width, int height) {
    Make(1, 0);
    const double base_mib = PeakMib(100'000, 1, 1, format);
    TearDown();
    SetUp();
    const int files = kind == "raw" ? 2 : 1;
    if (kind == "raw") MakeRaw(width, height, files);
    if (kind == "tiff") MakeTiff(width, height);
    kind == "jpeg" ? Make(1, 0, width, height) : Make(0, 0);
    const auto photos = Open()->Photos();
    ASSERT_TRUE(photos.ok() && photos->size() == static_cast<std::size_t>(files));
    codec::ReadOptions read;
    read.keep_samples = true;
    codec::WriteOptions write;
    write.format = format == "jpeg"     ? codec::Format::kJpeg
                   : format == "tiff16" ? codec::Format::kTiff16
                                        : codec::Format::kPng;
    record::Photo photo = photos->front();
    if (kind == "jpeg") photo.capture.body = "Body";  // as a camera's, which is known to have no ink
    const double thought_mib =
        static_cast<double>(WorkingBytes(photo, read, false, 0, format != "jpeg", write)) / (1 << 20);
    const double peak_mib = PeakMib(100'000, 1, files, format) - base_mib;
    std::printf("%s of %.0f megapixels to %s: %.0f MiB of the %.0f it is thought to take\n", kind.c_str(),
                1e-6 * width * height, format.c_str(), peak_mib, thought_mib);
    EXPECT_LT(peak_mib, thought_mib);
    EXPECT_GT(1.6 * peak_mib, thought_mib);
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
  SetWorkers(std::atoi(std::getenv("SAMELIGHT_TEST_WORKERS")));
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

// The setting below: less than two pictures are thought to need, so that they go one after the other.
constexpr double kFloatMib = 12.0 * kWidth * kHeight / (1 << 20);

TEST_F(LargeMemoryTest, HundredMegapixelsStayWithinTheSetting) {
  constexpr int kSettingMib = 3000;
  MakeRaw(kWidth, kHeight);
  Make(1, 0, kWidth, kHeight);
  const double peak_mib = PeakMib(kSettingMib, 2, 2, "jpeg");
  std::printf("two files of 100 megapixels, two workers: %.0f MiB of %d\n", peak_mib, kSettingMib);
  EXPECT_GT(peak_mib, kFloatMib) << "more than one picture";
  EXPECT_LT(peak_mib, kSettingMib);
}

TEST_F(LargeMemoryTest, JpegTakesWhatIsThought) { EstimateHolds("jpeg", "jpeg", 4500, 3000); }
TEST_F(LargeMemoryTest, RawTakesWhatIsThought) { EstimateHolds("raw", "jpeg", 4500, 3000); }
TEST_F(LargeMemoryTest, TiffTakesWhatIsThought) { EstimateHolds("tiff", "tiff16", 4500, 3000); }

// Takes minutes: scripts/nightly memory.
TEST_F(LargeMemoryTest, DISABLED_HundredMegapixelsTakeWhatIsThought) {
  for (const char* kind : {"jpeg", "raw", "tiff"})
    for (const char* format : {"jpeg", "tiff16", "png16"}) {
      EstimateHolds(kind, format, kWidth, kHeight);
      TearDown();
      SetUp();
    }
}

}  // namespace
}  // namespace samelight::job
