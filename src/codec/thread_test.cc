// Many readers at once, each on one thread.
#include <gtest/gtest.h>

#include <atomic>
#include <thread>

#include "codec/read.h"
#include "codec/testing.h"
#include "codec/write.h"

namespace samelight::codec {
namespace {

using testing::Folder;

long Threads() {
  return std::distance(std::filesystem::directory_iterator("/proc/self/task"),
                       std::filesystem::directory_iterator());
}

std::vector<std::filesystem::path> SomeOfEach(const Folder& folder) {
  std::vector<std::filesystem::path> files;
  for (const Format format : {Format::kJpeg, Format::kTiff8, Format::kPng}) {
    WriteOptions options;
    options.format = format;
    files.push_back(folder / (std::string("a") + Ending(format)));
    EXPECT_TRUE(WritePicture(files.back(), testing::Quarters<std::uint8_t>(300, 200), options).ok());
  }
  DngSpec spec = testing::CameraSpec();
  spec.capture.make = "Invented";
  spec.capture.body = "Body A";
  spec.capture.lens = "Invented 35/2";
  spec.capture.focal_mm = 35;
  files.push_back(folder / "a.dng");
  const auto bayer = testing::Mosaic(spec, 300, 200, [](int x, int y) {
    return Vec3{x / 400.0, y / 300.0, 0.2};
  });
  EXPECT_TRUE(WriteDng(files.back(), bayer, spec).ok());
  return files;
}

// LibRaw would start a thread per core in each of our workers.
TEST(Threads, RawKeepsToTheCallersThread) {
  Folder folder;
  const auto files = SomeOfEach(folder);
  const long before = Threads();
  ASSERT_TRUE(ReadPicture(files.back()).ok());
  EXPECT_EQ(Threads(), before);
}

TEST(Threads, ManyReadersGetTheSame) {
  Folder folder;
  const auto files = SomeOfEach(folder);
  std::vector<Picture> alone;
  for (const auto& file : files) {
    auto picture = ReadPicture(file);
    ASSERT_TRUE(picture.ok());
    alone.push_back(std::move(*picture));
  }
  std::vector<std::thread> workers;
  std::atomic<int> wrong = 0;
  for (int w = 0; w < 6; ++w)
    workers.emplace_back([&, w] {
      for (std::size_t i = 0; i < 4 * files.size(); ++i) {
        const std::size_t f = (i + static_cast<std::size_t>(w)) % files.size();
        const auto picture = ReadPicture(files[f]);
        const auto facts = ReadFacts(files[f]);
        if (!picture.ok() || !facts.ok() || picture->pixels.data() != alone[f].pixels.data() ||
            picture->photo.hash != alone[f].photo.hash || facts->width_px != 300)
          ++wrong;
        WriteOptions options;
        options.metadata = KeepMetadata(files[f]).value();
        const auto out = folder / ("w" + std::to_string(w) + ".jpg");
        if (!WritePicture(out, testing::Quarters<std::uint8_t>(64, 64), options).ok()) ++wrong;
      }
    });
  for (auto& worker : workers) worker.join();
  EXPECT_EQ(wrong, 0);
}

}  // namespace
}  // namespace samelight::codec
