#include "simulate/session.h"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>

#include "base/file.h"
#include "base/task_pool.h"
#include "codec/read.h"

namespace samelight::simulate {
namespace fs = std::filesystem;
namespace {

class SessionTest : public testing::Test {
 protected:
  void SetUp() override {
    dir_ = fs::temp_directory_path() / ("samelight-session-" + std::to_string(::getpid()) + "-" +
                                        testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(dir_);
  }
  void TearDown() override { fs::remove_all(dir_); }

  static SessionOptions Small() {
    SessionOptions options;
    options.seed = 3;
    options.painted = true;
    options.frame_long_side_px = 300;
    options.lights = 3;
    options.frames = 9;
    options.scans = 6;
    return options;
  }

  fs::path dir_;
};

nlohmann::json TruthOf(const fs::path& dir) {
  return nlohmann::json::parse(std::ifstream(dir / "truth/truth.json"));
}

std::map<std::string, std::vector<std::uint8_t>> FilesBelow(const fs::path& dir) {
  std::map<std::string, std::vector<std::uint8_t>> files;
  for (const auto& entry : fs::recursive_directory_iterator(dir))
    if (entry.is_regular_file())
      files[fs::relative(entry.path(), dir).string()] = *ReadFile(entry.path(), 1u << 28);
  return files;
}

TEST_F(SessionTest, WritesReadableFilesAndTheirTruth) {
  SessionOptions options = Small();
  options.borders = options.dust = options.vignetting = options.flare = options.flash = options.mixed_light =
      true;
  options.pushed_roll = options.black_and_white_roll = options.skin_of_every_tone = true;
  SilentProgress progress;
  const auto summary = WriteSession(dir_, options, progress, {});
  ASSERT_TRUE(summary.ok()) << summary.error().Text();
  EXPECT_EQ(summary->photographs, 0);
  const auto truth = TruthOf(dir_);
  EXPECT_TRUE(truth["painted"].get<bool>());
  ASSERT_EQ(truth["frames"].size(), 9u);
  ASSERT_EQ(truth["scans"].size(), 9u);
  int raws = 0, portraits = 0;
  for (const auto& frame : truth["frames"]) {
    const auto picture = codec::ReadPicture(dir_ / frame["frame"].get<std::string>());
    ASSERT_TRUE(picture.ok()) << picture.error().Text();
    const auto seen = codec::ReadPicture(dir_ / frame["truth"].get<std::string>());
    ASSERT_TRUE(seen.ok()) << seen.error().Text();
    EXPECT_NEAR(static_cast<double>(picture->pixels.width()) / picture->pixels.height(),
                static_cast<double>(seen->pixels.width()) / seen->pixels.height(), 0.02);
    portraits += picture->pixels.height() > picture->pixels.width();
    const auto& photo = picture->photo;
    EXPECT_TRUE(photo.capture.time_us.has_value());
    EXPECT_FALSE(photo.capture.body.empty());
    EXPECT_GT(photo.capture.exposure_time_s.value_or(0), 0);
    EXPECT_GT(photo.capture.iso.value_or(0), 0);
    if (picture->scene_referred) {
      ++raws;
      // As-shot multipliers are the inverse of the neutral that was written.
      for (int c = 0; c < 3; ++c)
        EXPECT_NEAR(photo.raw.as_shot[c] * frame["as_shot_neutral"][c].get<double>(), 1, 2e-3);
    }
  }
  EXPECT_EQ(raws, 7);
  for (const auto& scan : truth["scans"]) {
    const auto picture = codec::ReadPicture(dir_ / scan["scan"].get<std::string>());
    ASSERT_TRUE(picture.ok()) << picture.error().Text();
    EXPECT_FALSE(picture->photo.capture.time_us.has_value());
    if (scan["black_and_white"].get<bool>()) {
      const float* p = picture->pixels.at(picture->pixels.width() / 2, picture->pixels.height() / 2);
      EXPECT_NEAR(p[0], p[2], 0.02);
    }
  }
}

TEST_F(SessionTest, NudgesAreAboutTwoUnits) {
  SilentProgress progress;
  SessionOptions options = Small();
  options.scans = 20;
  const auto summary = WriteSession(dir_, options, progress, {});
  ASSERT_TRUE(summary.ok());
  EXPECT_GT(summary->nudge_de, 1.0);
  EXPECT_LT(summary->nudge_de, 3.2);
}

TEST_F(SessionTest, SameBytesForAnyNumberOfWorkers) {
  SilentProgress progress;
  SetWorkers(1);
  ASSERT_TRUE(WriteSession(dir_ / "one", Small(), progress, {}).ok());
  SetWorkers(2);
  ASSERT_TRUE(WriteSession(dir_ / "two", Small(), progress, {}).ok());
  SetWorkers(0);
  const auto one = FilesBelow(dir_ / "one"), two = FilesBelow(dir_ / "two");
  ASSERT_EQ(one.size(), two.size());
  for (const auto& [name, bytes] : one) EXPECT_EQ(bytes, two.at(name)) << name;
}

TEST_F(SessionTest, WithoutTruthPicturesThePhotographsAreTheSame) {
  SilentProgress progress;
  SessionOptions options = Small();
  ASSERT_TRUE(WriteSession(dir_ / "with", options, progress, {}).ok());
  options.truth_pictures = false;
  ASSERT_TRUE(WriteSession(dir_ / "without", options, progress, {}).ok());
  for (const char* part : {"digital", "film"})
    EXPECT_EQ(FilesBelow(dir_ / "with" / part), FilesBelow(dir_ / "without" / part));
  EXPECT_EQ(FilesBelow(dir_ / "without/truth").size(), 1u);
  EXPECT_EQ(TruthOf(dir_ / "without")["frames"].size(), 9u);
}

TEST_F(SessionTest, RefusesAFolderThatHoldsOne) {
  fs::create_directories(dir_ / "truth");
  SilentProgress progress;
  const auto summary = WriteSession(dir_, Small(), progress, {});
  ASSERT_FALSE(summary.ok());
  EXPECT_EQ(summary.error().code, ErrorCode::kInvalidArgument);
}

TEST_F(SessionTest, StopsWhenAsked) {
  Cancel cancel;
  cancel.Request();
  SilentProgress progress;
  const auto summary = WriteSession(dir_, Small(), progress, cancel);
  ASSERT_FALSE(summary.ok());
  EXPECT_EQ(summary.error().code, ErrorCode::kCancelled);
}

TEST_F(SessionTest, UnreadablePhotographIsPaintedInstead) {
  const fs::path photos = dir_ / "photos";
  fs::create_directories(photos);
  for (const char* name : {"a.jpg", "b.png", "c.jpg"}) std::ofstream(photos / name) << "no picture";
  SessionOptions options = Small();
  options.painted = false;
  options.photographs = photos;
  options.lights = 2;
  options.frames = 3;
  options.scans = 2;
  SilentProgress progress;
  const auto summary = WriteSession(dir_ / "out", options, progress, {});
  ASSERT_TRUE(summary.ok()) << summary.error().Text();
  EXPECT_GE(summary->skipped, 2);
  EXPECT_EQ(summary->photographs, 0);
}

}  // namespace
}  // namespace samelight::simulate
