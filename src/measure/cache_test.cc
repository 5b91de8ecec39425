#include "measure/cache.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <span>

#include "base/file.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

class CacheTest : public testing::Test {
 protected:
  CacheTest()
      : folder_(std::filesystem::temp_directory_path() / ("samelight_cache_" + std::to_string(::getpid()))),
        file_(folder_ / "one.measured") {
    std::filesystem::create_directories(folder_);
  }
  ~CacheTest() override { std::filesystem::remove_all(folder_); }

  static Cached Filled() {
    Cached c;
    c.measured.faces = {{0.1, 0.2, 0.3, 0.4, 0.9}, {0.5, 0.5, 0.75, 0.8, 0.8}};
    record::RegionStat s;
    s.kind = record::RegionKind::kSkin;
    s.face = 1;
    s.area = 0.25;
    s.quantiles[2] = {0.4, 0.3, 0.2};
    s.mean = {0.41, 0.31, 0.21};
    c.measured.regions = {s};
    c.measured.light = {{1.1, 1, 0.8}, 190, -0.002, -2.5, 0.7};
    c.measured.sharpness = 12;
    c.measured.clipped_high = 0.01;
    c.measured.black_and_white = true;
    c.measured.inner_left = 0.02;
    c.measured.grain = 0.011;
    c.measured.note = "blank: one dark tone";
    c.analysis.pixels = PaintedScene(60, 40, 3);
    *c.analysis.pixels.at(1, 1) = 7.5f;  // scene-referred values go beyond 1
    *c.analysis.pixels.at(2, 1) = -0.01f;
    for (image::PlaneU8* plane : {&c.analysis.labels, &c.analysis.faces}) {
      plane->Resize(60, 40);
      for (std::size_t i = 0; i < plane->pixels(); ++i)
        plane->data()[i] = static_cast<std::uint8_t>(i / 700 + i % 2);
    }
    c.features.points = {{0.25f, 0.5f, 12, 90}, {0.75f, 0.1f, 3, -10}};
    c.features.local.resize(2 * kLocalSize);
    for (std::size_t i = 0; i < c.features.local.size(); ++i)
      c.features.local[i] = static_cast<std::uint8_t>(i);
    c.features.global = {0.6f, 0.8f};
    return c;
  }

  std::filesystem::path folder_, file_;
};

// Without the care that WriteFileWhole takes: hundreds of these are written.
void WriteQuickly(const std::filesystem::path& file, std::span<const std::uint8_t> bytes) {
  std::ofstream(file, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

void ExpectSameFacts(const Cached& a, const Cached& b) {
  ASSERT_EQ(a.measured.faces.size(), b.measured.faces.size());
  EXPECT_EQ(a.measured.faces[1].right, b.measured.faces[1].right);
  ASSERT_EQ(a.measured.regions.size(), b.measured.regions.size());
  EXPECT_EQ(a.measured.regions[0].kind, b.measured.regions[0].kind);
  EXPECT_EQ(a.measured.regions[0].face, b.measured.regions[0].face);
  EXPECT_EQ(a.measured.regions[0].quantiles, b.measured.regions[0].quantiles);
  EXPECT_EQ(a.measured.regions[0].mean, b.measured.regions[0].mean);
  EXPECT_EQ(a.measured.light.neutral, b.measured.light.neutral);
  EXPECT_EQ(a.measured.light.mired, b.measured.light.mired);
  EXPECT_EQ(a.measured.light.confidence, b.measured.light.confidence);
  EXPECT_EQ(a.measured.black_and_white, b.measured.black_and_white);
  EXPECT_EQ(a.measured.inner_left, b.measured.inner_left);
  EXPECT_EQ(a.measured.grain, b.measured.grain);
  EXPECT_EQ(a.measured.note, b.measured.note);
  ASSERT_EQ(a.features.points.size(), b.features.points.size());
  EXPECT_EQ(a.features.points[1].angle_deg, b.features.points[1].angle_deg);
  EXPECT_EQ(a.features.local, b.features.local);
  EXPECT_EQ(a.features.global, b.features.global);
}

TEST_F(CacheTest, BringsBackWhatWasWritten) {
  const Cached c = Filled();
  ASSERT_TRUE(WriteCached(file_, c).ok());
  Result<Cached> back = ReadCached(file_);
  ASSERT_TRUE(back.ok()) << back.error().Text();
  ExpectSameFacts(*back, c);
  EXPECT_EQ(back->analysis.labels.data(), c.analysis.labels.data());
  EXPECT_EQ(back->analysis.faces.data(), c.analysis.faces.data());
  ASSERT_EQ(back->analysis.pixels.width(), 60);
  for (std::size_t i = 0; i < c.analysis.pixels.data().size(); ++i) {
    const float v = c.analysis.pixels.data()[i];
    // Half precision keeps 11 bits (IEEE 754-2008, binary16).
    EXPECT_NEAR(back->analysis.pixels.data()[i], v, std::abs(v) / 2048 + 1e-7);
  }
}

TEST_F(CacheTest, FactsComeWithoutPixels) {
  const Cached c = Filled();
  ASSERT_TRUE(WriteCached(file_, c).ok());
  Result<Cached> facts = ReadCachedFacts(file_);
  ASSERT_TRUE(facts.ok()) << facts.error().Text();
  ExpectSameFacts(*facts, c);
  EXPECT_TRUE(facts->analysis.pixels.empty());
}

TEST_F(CacheTest, AnEmptyOneIsAllowed) {
  ASSERT_TRUE(WriteCached(file_, Cached{}).ok());
  Result<Cached> back = ReadCached(file_);
  ASSERT_TRUE(back.ok()) << back.error().Text();
  EXPECT_TRUE(back->analysis.pixels.empty());
}

TEST_F(CacheTest, MissingAndOtherVersionsAreNotFound) {
  EXPECT_EQ(ReadCached(file_).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(ReadCachedFacts(file_).error().code, ErrorCode::kNotFound);
  ASSERT_TRUE(WriteCached(file_, Filled()).ok());
  std::vector<std::uint8_t> bytes = *ReadFile(file_, 1 << 20);
  ++bytes[8];  // the version follows the magic of 8 bytes
  WriteQuickly(file_, bytes);
  EXPECT_EQ(ReadCached(file_).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(ReadCachedFacts(file_).error().code, ErrorCode::kNotFound);
}

TEST_F(CacheTest, EveryTruncationIsNamed) {
  ASSERT_TRUE(WriteCached(file_, Filled()).ok());
  const std::vector<std::uint8_t> bytes = *ReadFile(file_, 1 << 20);
  for (std::size_t size = 0; size < bytes.size(); size += size < 200 ? 1 : 211) {
    WriteQuickly(file_, std::span(bytes).first(size));
    Result<Cached> whole = ReadCached(file_), facts = ReadCachedFacts(file_);
    ASSERT_FALSE(whole.ok()) << size;
    ASSERT_FALSE(facts.ok()) << size;
    EXPECT_EQ(whole.error().code, ErrorCode::kDamaged) << size;
    EXPECT_EQ(facts.error().code, ErrorCode::kDamaged) << size;
  }
}

TEST_F(CacheTest, EveryChangedByteIsNamed) {
  ASSERT_TRUE(WriteCached(file_, Filled()).ok());
  const std::vector<std::uint8_t> bytes = *ReadFile(file_, 1 << 20);
  for (std::size_t at = 0; at < bytes.size(); at += at < 200 ? 1 : 151) {
    std::vector<std::uint8_t> other = bytes;
    other[at] ^= 0x55;
    WriteQuickly(file_, other);
    Result<Cached> whole = ReadCached(file_);
    ASSERT_FALSE(whole.ok()) << at;
    EXPECT_TRUE(whole.error().code == ErrorCode::kDamaged || whole.error().code == ErrorCode::kNotFound)
        << at;
    (void)ReadCachedFacts(file_);  // may be whole: the change can lie in the pixels
  }
}

TEST_F(CacheTest, PlanesOfOtherSizesAreRefused) {
  Cached c = Filled();
  c.analysis.labels.Resize(59, 40);
  EXPECT_EQ(WriteCached(file_, c).error().code, ErrorCode::kInvalidArgument);
  c = Filled();
  c.features.local.pop_back();
  EXPECT_EQ(WriteCached(file_, c).error().code, ErrorCode::kInvalidArgument);
}

}  // namespace
}  // namespace samelight::measure
