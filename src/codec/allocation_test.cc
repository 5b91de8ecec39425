// Reading takes no memory for pixels once such a picture has been read: every allocation of this test program
// is counted. Sanitizers have allocation functions of their own; the release build runs this test.
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#include "base/allocations_testing.h"
#include "codec/lens_testing.h"
#include "codec/read.h"
#include "codec/testing.h"

namespace samelight::codec {
namespace {

constexpr int kWidth = 900, kHeight = 600;

// Of a noise that is reduced, or smooth.
void Write(const std::filesystem::path& file, const record::Capture& capture, int orientation, bool noisy) {
  image::Raster<std::uint16_t, 1> mosaic(kWidth, kHeight);
  std::uint32_t dice = 1;
  for (std::uint16_t& v : mosaic.data())
    v = static_cast<std::uint16_t>(3000 + (noisy ? (dice = dice * 1664525u + 1013904223u) >> 20 : 0));
  DngSpec spec;
  spec.capture = capture;
  spec.orientation = orientation;
  ASSERT_TRUE(WriteDng(file, mosaic, spec).ok());
}

TEST(Allocation, LaterRawFilesTakeNoMemoryForPixels) {
  const testing::Folder folder;
  const auto lens = testing::AnyKnownLens();
  ASSERT_TRUE(lens.has_value()) << "the lens database is not installed";
  record::Capture plain;
  plain.body = "Body";
  Write(folder / "lens.dng", lens->capture, 1, false);
  Write(folder / "turned lens.dng", lens->capture, 6, true);
  Write(folder / "plain.dng", plain, 1, false);
  Write(folder / "turned.dng", plain, 8, false);
  Write(folder / "noisy.dng", plain, 6, true);
  // A file is smaller than a picture of 16 bits, LibRaw's memory does not come from C++'s functions.
  samelight::testing::g_allocations.least = std::size_t{6} * kWidth * kHeight;
  for (const bool samples : {true, false}) {
    Spare spare;
    ReadOptions options;
    options.keep_samples = samples;
    const auto read = [&](const std::string& name) {
      SCOPED_TRACE(name);
      const long before = samelight::testing::g_allocations.count;
      auto picture = ReadPicture(folder / name, options, &spare);
      EXPECT_TRUE(picture.ok());
      if (!picture.ok()) return 0L;
      EXPECT_EQ(picture->lens_corrected, name.find("lens") != std::string::npos);
      const bool floats = !samples || picture->lens_corrected || name == "noisy.dng";
      EXPECT_EQ(picture->pixels.empty(), !floats);
      spare.Take(std::move(*picture));
      return samelight::testing::g_allocations.count - before;
    };
    EXPECT_EQ(read("lens.dng"), 2) << "16 bits and floats";
    for (const char* name :
         {"lens.dng", "turned lens.dng", "plain.dng", "turned.dng", "noisy.dng", "lens.dng"})
      EXPECT_EQ(read(name), 0) << name;
  }
}

}  // namespace
}  // namespace samelight::codec
#endif
