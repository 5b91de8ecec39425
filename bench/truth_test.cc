// The truth of a session that the simulator writes, small and painted.
#include "bench/truth.h"

#include <gtest/gtest.h>

#include <fstream>

#include "bench/baselines.h"
#include "bench/self_check.h"
#include "simulate/session.h"

namespace samelight::bench {
namespace {

struct Folder {
  fs::path path;
  Folder() {
    std::string name = (fs::temp_directory_path() / "match-table-XXXXXX").string();
    path = mkdtemp(name.data());
  }
  ~Folder() { fs::remove_all(path); }
};

TEST(Truth, OfAWrittenSessionIsReadAndFitsItsPictures) {
  const Folder folder;
  simulate::SessionOptions options;
  options.painted = true;
  options.lights = 2;
  options.frames = 8;
  options.scans = 4;
  options.frame_long_side_px = 600;
  SilentProgress silent;
  ASSERT_TRUE(simulate::WriteSession(folder.path / "demo", options, silent, {}).ok());
  const Result<Truth> truth = ReadTruth(folder.path / "demo");
  ASSERT_TRUE(truth.ok()) << truth.error().Text();
  EXPECT_EQ(truth->frames.size(), 8u);
  EXPECT_EQ(truth->scans.size(), 4u);
  const Result<Pictures> pictures = LoadPictures(*truth, folder.path / "cache", false);
  ASSERT_TRUE(pictures.ok()) << pictures.error().Text();
  for (const std::string& finding : CheckRegistration(*truth, *pictures, 8)) ADD_FAILURE() << finding;
  EXPECT_EQ(std::max(pictures->frames[0].linear.width(), pictures->frames[0].linear.height()), kLongSide);

  // From the cache the same comes back, until a file changes.
  const Result<Pictures> again = LoadPictures(*truth, folder.path / "cache", true);
  ASSERT_TRUE(again.ok());
  EXPECT_EQ(again->frames[3].linear.data(), pictures->frames[3].linear.data());
  EXPECT_EQ(again->frames[3].truth.data(), pictures->frames[3].truth.data());
  EXPECT_EQ(again->frames[3].as_shot, pictures->frames[3].as_shot);
  fs::copy_file(truth->frames[2].truth, truth->frames[3].truth, fs::copy_options::overwrite_existing);
  const Result<Pictures> changed = LoadPictures(*truth, folder.path / "cache", true);
  ASSERT_TRUE(changed.ok());
  EXPECT_NE(changed->frames[3].truth.data(), pictures->frames[3].truth.data());
}

TEST(Truth, DamagedOrMissingIsSaid) {
  const Folder folder;
  EXPECT_EQ(ReadTruth(folder.path).error().code, ErrorCode::kNotFound);
  fs::create_directory(folder.path / "truth");
  std::ofstream(folder.path / "truth/truth.json") << "{\"seed\": 1}";
  EXPECT_EQ(ReadTruth(folder.path).error().code, ErrorCode::kDamaged);
}

TEST(GivenScan, SameMomentThenSameLightThenNearestLight) {
  Truth truth;
  for (int l = 0; l < 4; ++l) truth.lights.push_back({"", "", true, l != 3});
  const auto frame = [&](int light, int moment) {
    TrueFrame f;
    f.file = "f" + std::to_string(moment);
    f.light = light;
    f.moment = moment;
    truth.frames.push_back(f);
  };
  frame(0, 0);
  frame(0, 1);
  frame(1, 2);
  frame(2, 3);
  const auto scan = [&](int light, int moment, std::vector<std::string> moment_frames) {
    TrueScan s;
    s.light = light;
    s.moment = moment;
    s.moment_frames = std::move(moment_frames);
    truth.scans.push_back(s);
  };
  scan(3, 9, {});      // a light that only film saw
  scan(0, 5, {});      // same light as frames 0 and 1
  scan(0, 1, {"f1"});  // same moment as frame 1
  const std::vector<bool> all(3, true);
  EXPECT_EQ(GivenScan(truth, all, 1), 2);
  EXPECT_EQ(GivenScan(truth, all, 0), 2);  // nearer in moments than scan 1
  EXPECT_EQ(GivenScan(truth, all, 2), 2);  // nearest light
  EXPECT_EQ(GivenScan(truth, {true, true, false}, 1), 1);
  EXPECT_EQ(GivenScan(truth, {true, false, false}, 3), 0);
  EXPECT_EQ(GivenScan(truth, {false, false, false}, 3), -1);
  EXPECT_TRUE(truth.Filmed(0));
  EXPECT_FALSE(truth.Filmed(1));
}

}  // namespace
}  // namespace samelight::bench
