#include "pair/kept.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "base/file.h"
#include "pair/session_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;

class KeptTest : public ::testing::Test {
 protected:
  KeptTest() { std::filesystem::create_directories(dir_); }
  ~KeptTest() override { std::filesystem::remove_all(dir_); }
  const std::filesystem::path dir_ =
      std::filesystem::path(::testing::TempDir()) /
      (std::string("kept-") + ::testing::UnitTest::GetInstance()->current_test_info()->name());
  const std::filesystem::path file_ = dir_ / "pairs.kept";
};

// Three scenes with two frames each on two bodies, two of them filmed; contents have hashes.
struct Day : Session {
  Day() {
    width_px = 480;
    height_px = 360;
    for (int scene = 0; scene < 3; ++scene)
      for (int k = 0; k < 2; ++k)
        Hash(AddFrame(scene, Seed(), 3000.0 * scene + 10 * k, "body one", 180 + 60 * scene));
    for (int scene : {0, 1}) Hash(AddScan(scene, Seed()));
  }
  PhotoId Hash(PhotoId id) {
    PhotoOf(id).hash = "hash" + std::to_string(id.value);
    return id;
  }
  std::uint64_t Seed() { return ++seed_; }
  Pairing PairWith(Kept& kept) {
    Request r = MakeRequest();
    r.kept = &kept;
    SilentProgress quiet;
    Result<Pairing> p = PairSession(r, quiet, Cancel());
    EXPECT_TRUE(p.ok());
    return p.ok() ? *p : Pairing{};
  }

 private:
  std::uint64_t seed_ = 40;
};

void ExpectSame(const Pairing& a, const Pairing& b) {
  ASSERT_EQ(a.pairs.size(), b.pairs.size());
  for (std::size_t i = 0; i < a.pairs.size(); ++i) {
    EXPECT_EQ(a.pairs[i].scan, b.pairs[i].scan);
    EXPECT_EQ(a.pairs[i].frame, b.pairs[i].frame);
    EXPECT_EQ(a.pairs[i].confidence, b.pairs[i].confidence);
  }
  const auto same = [](const std::vector<record::Correspondence>& x,
                       const std::vector<record::Correspondence>& y) {
    ASSERT_EQ(x.size(), y.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
      EXPECT_EQ(x[i].a, y[i].a);
      EXPECT_EQ(x[i].b, y[i].b);
      EXPECT_EQ(x[i].inliers, y[i].inliers);
      ASSERT_EQ(x[i].cells.size(), y[i].cells.size());
      for (std::size_t k = 0; k < x[i].cells.size(); ++k) {
        ASSERT_EQ(x[i].cells[k].bx, y[i].cells[k].bx);
        ASSERT_EQ(x[i].cells[k].a_rgb[2], y[i].cells[k].a_rgb[2]);
      }
    }
  };
  same(a.scan_to_frame, b.scan_to_frame);
  same(a.frame_to_frame, b.frame_to_frame);
}

TEST_F(KeptTest, ALateRollAndALateCardCostOnlyWhatIsNew) {
  Day day;
  {
    Kept kept;
    ExpectSame(day.PairWith(kept), day.Pair());
    EXPECT_EQ(kept.made(Kept::kLikeness), 2 * 6);
    EXPECT_GT(kept.made(Kept::kFrames), 0);
    EXPECT_GT(kept.made(Kept::kCells), 0);
    ASSERT_TRUE(kept.Write(file_).ok());
  }
  {
    Kept kept;  // nothing new: nothing is made
    ASSERT_TRUE(kept.Read(file_).ok());
    ExpectSame(day.PairWith(kept), day.Pair());
    for (const auto kind : {Kept::kLikeness, Kept::kScanAndFrame, Kept::kFrames, Kept::kCells})
      EXPECT_EQ(kept.made(kind), 0) << kind;
  }
  day.Hash(day.AddScan(2, day.Seed(), 1));  // a late roll of one scan
  {
    Kept kept;
    ASSERT_TRUE(kept.Read(file_).ok());
    ExpectSame(day.PairWith(kept), day.Pair());
    EXPECT_EQ(kept.made(Kept::kLikeness), 6);
    EXPECT_LE(kept.made(Kept::kScanAndFrame), 6);
    EXPECT_EQ(kept.made(Kept::kFrames), 0);
    ASSERT_TRUE(kept.Write(file_).ok());
  }
  day.Hash(day.AddFrame(2, day.Seed(), 6100, "body two", 300));  // a late card of one frame
  Kept kept;
  ASSERT_TRUE(kept.Read(file_).ok());
  ExpectSame(day.PairWith(kept), day.Pair());
  EXPECT_EQ(kept.made(Kept::kLikeness), 3);
  EXPECT_LE(kept.made(Kept::kScanAndFrame), 3);
  EXPECT_GT(kept.made(Kept::kFrames), 0);
  EXPECT_LE(kept.made(Kept::kFrames), 6);  // with each of the others at most
}

TEST_F(KeptTest, WhatWasNotAskedForIsForgotten) {
  const auto make = [] { return 1.0; };
  Kept first;
  first.Likeness("a", "b", make);
  first.Likeness("a", "c", make);
  ASSERT_TRUE(first.Write(file_).ok());
  Kept second;
  ASSERT_TRUE(second.Read(file_).ok());
  second.Likeness("a", "b", make);
  ASSERT_TRUE(second.Write(file_).ok());
  Kept third;
  ASSERT_TRUE(third.Read(file_).ok());
  third.Likeness("a", "b", make);
  EXPECT_EQ(third.made(Kept::kLikeness), 0);
  third.Likeness("a", "c", make);
  EXPECT_EQ(third.made(Kept::kLikeness), 1);
}

TEST_F(KeptTest, WithoutHashOrWithoutCellsNothingIsKept) {
  Kept kept;
  for (int i = 0; i < 2; ++i) {
    kept.Likeness("", "b", [] { return 1.0; });
    kept.Cells("a", "b", 9, [] { return record::Correspondence{}; });
  }
  EXPECT_EQ(kept.made(Kept::kLikeness), 2);
  EXPECT_EQ(kept.made(Kept::kCells), 2);
}

TEST_F(KeptTest, HarmedFilesKeepNothing) {
  EXPECT_EQ(Kept().Read(file_).error().code, ErrorCode::kNotFound);
  Kept kept;
  kept.Likeness("a", "b", [] { return 1.0; });
  ASSERT_TRUE(kept.Write(file_).ok());
  const std::vector<std::uint8_t> whole = *ReadFile(file_, 1 << 20);
  for (std::size_t length = 0; length < whole.size(); length += 23) {
    ASSERT_TRUE(WriteFileWhole(file_, std::span(whole).first(length)).ok());
    EXPECT_EQ(Kept().Read(file_).error().code, ErrorCode::kDamaged) << length;
  }
  for (std::size_t at = 16; at < whole.size(); at += 3) {
    std::vector<std::uint8_t> bytes = whole;
    bytes[at] ^= 0x10;
    ASSERT_TRUE(WriteFileWhole(file_, bytes).ok());
    EXPECT_FALSE(Kept().Read(file_).ok()) << at;
  }
  std::vector<std::uint8_t> bytes = whole;
  ++bytes[8];
  ASSERT_TRUE(WriteFileWhole(file_, bytes).ok());
  EXPECT_EQ(Kept().Read(file_).error().code, ErrorCode::kUnsupported);
}

}  // namespace
}  // namespace samelight::pair
