#include "simulate/plan.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <set>

namespace samelight::simulate {
namespace {

Plan Must(const SessionOptions& options) {
  auto plan = MakePlan(options);
  EXPECT_TRUE(plan.ok());
  return plan.ok() ? *plan : Plan{};
}

TEST(Plan, HoldsWhatTheDemoPromises) {
  std::set<std::string> days, bodies;
  int none = 0, with_unfilmed = 0, mirrored = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    SessionOptions options;
    options.seed = seed;
    const Plan plan = Must(options);
    ASSERT_EQ(plan.frames.size(), 48u);
    ASSERT_EQ(plan.scans.size(), 14u);
    EXPECT_EQ(std::count_if(plan.lights.begin(), plan.lights.end(), [](const auto& l) { return l.digital; }),
              6);
    EXPECT_EQ(std::count_if(plan.frames.begin(), plan.frames.end(), [](const auto& f) { return f.jpeg; }),
              12);
    EXPECT_NE(plan.cameras[0], plan.cameras[1]);
    EXPECT_GE(std::abs(plan.clock_offset_s), 100);
    EXPECT_GE(plan.rolls.size(), 2u);
    EXPECT_LE(plan.rolls.size(), 3u);
    std::set<int> lights_with_frames, lights_with_scans;
    std::set<std::string> files;
    for (const auto& f : plan.frames) {
      lights_with_frames.insert(plan.moments[f.moment].light);
      EXPECT_TRUE(files.insert(f.file).second);
      EXPECT_LE(std::abs(f.exposure_ev), 1.0);
    }
    for (const auto& s : plan.scans) {
      lights_with_scans.insert(plan.moments[s.moment].light);
      EXPECT_TRUE(files.insert(s.file).second) << s.file;
      none += !plan.lights[plan.moments[s.moment].light].digital;
      mirrored += s.mirrored;
    }
    EXPECT_EQ(lights_with_frames.size(), 6u);
    for (std::size_t l = 0; l < plan.lights.size(); ++l)
      EXPECT_EQ(lights_with_scans.contains(static_cast<int>(l)), plan.lights[l].filmed) << seed;
    with_unfilmed +=
        std::any_of(plan.lights.begin(), plan.lights.end(), [](const auto& l) { return !l.filmed; });
    std::string day;
    for (const auto& l : plan.lights) day += l.lighting.name;
    days.insert(day);
    bodies.insert(std::to_string(plan.cameras[0]) + std::to_string(plan.cameras[1]));
  }
  EXPECT_GE(none, 40);           // each session has a scan without a frame
  EXPECT_EQ(with_unfilmed, 40);  // and a light without film
  EXPECT_GT(mirrored, 5);
  EXPECT_GT(days.size(), 20u);
  EXPECT_GT(bodies.size(), 6u);
}

TEST(Plan, NoSceneIsSeenInTwoLights) {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    SessionOptions options;
    options.seed = seed;
    const Plan plan = Must(options);
    std::map<int, int> light_of;
    for (const auto& m : plan.moments) {
      const auto [at, fresh] = light_of.emplace(m.photograph, m.light);
      EXPECT_EQ(at->second, m.light);
      (void)fresh;
    }
  }
}

TEST(Plan, IsTheSameForTheSameSeed) {
  SessionOptions options;
  options.seed = 77;
  const Plan a = Must(options), b = Must(options);
  for (std::size_t i = 0; i < a.frames.size(); ++i) {
    EXPECT_EQ(a.frames[i].file, b.frames[i].file);
    EXPECT_EQ(a.frames[i].view.x, b.frames[i].view.x);
  }
}

TEST(Plan, FramesOfAMomentAreNearAndScansFrameDifferently) {
  SessionOptions options;
  const Plan plan = Must(options);
  for (const auto& s : plan.scans)
    for (const auto& f : plan.frames)
      if (f.moment == s.moment) {
        EXPECT_LT(std::abs(f.view.x - s.view.x), 0.35);
        EXPECT_FALSE(f.view.x == s.view.x && f.view.width == s.view.width);
      }
}

TEST(Plan, OptionalRolls) {
  SessionOptions options;
  options.black_and_white_roll = true;
  options.pushed_roll = true;
  const Plan plan = Must(options);
  EXPECT_EQ(plan.scans.size(), 17u);
  EXPECT_EQ(plan.rolls.back().stock, 3);
  EXPECT_TRUE(
      std::any_of(plan.rolls.begin(), plan.rolls.end(), [](const auto& r) { return r.push_ev == 1; }));
}

TEST(Plan, NamesTheOptionThatIsOutOfRange) {
  for (auto [change, name] :
       {std::pair<void (*)(SessionOptions&), const char*>{[](SessionOptions& o) { o.lights = 0; }, "lights"},
        {[](SessionOptions& o) { o.frames = 2; }, "frames"},
        {[](SessionOptions& o) { o.jpeg_share = 1.5; }, "jpeg_share"},
        {[](SessionOptions& o) { o.frame_long_side_px = 10; }, "frame_long_side_px"},
        {[](SessionOptions& o) { o.scans = -1; }, "scans"}}) {
    SessionOptions options;
    change(options);
    const auto plan = MakePlan(options);
    ASSERT_FALSE(plan.ok());
    EXPECT_EQ(plan.error().code, ErrorCode::kInvalidArgument);
    EXPECT_NE(plan.error().what.find(name), std::string::npos);
  }
}

TEST(Plan, SmallAndFilmlessSessions) {
  SessionOptions options;
  options.lights = 1;
  options.frames = 1;
  options.scans = 0;
  const Plan plan = Must(options);
  EXPECT_EQ(plan.frames.size(), 1u);
  EXPECT_TRUE(plan.rolls.empty());
}

}  // namespace
}  // namespace samelight::simulate
