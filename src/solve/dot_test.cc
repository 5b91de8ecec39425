// Pulling a dot, and tone curves (synthetic truth: regions under a known film).
#include "solve/dot.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <random>

#include "solve/left_over.h"
#include "solve/tone_curves.h"

namespace samelight::solve {
namespace {

using record::Handle;

record::Correction Film() {
  record::Correction c;
  c.look = look::NeutralLook();
  c.look.m2 = {{{1.06, -0.04, -0.02}, {-0.02, 1.05, -0.03}, {-0.02, -0.05, 1.07}}};
  for (int i = 0; i < 3; ++i) c.look.layer[i].gamma = 1.15 + 0.04 * i;
  c.offset_log10 = {0.04, 0, -0.03};
  return c;
}

RegionSamples Region(record::RegionKind kind, const Vec3& scene, const record::Correction& film) {
  std::mt19937 random(static_cast<unsigned>(kind));
  std::uniform_real_distribution<double> u(-0.3, 0.3);
  RegionSamples region{kind, -1, {}, true};
  for (int i = 0; i < 60; ++i) {
    const double level = std::exp2(u(random));
    region.frame.push_back({scene[0] * level, scene[1] * level, scene[2] * level});
  }
  region.lab_scan = LabUnder(region, look::Resolve(film));
  return region;
}

std::vector<RegionSamples> Scene(const record::Correction& film) {
  return {Region(record::RegionKind::kSkin, {0.30, 0.22, 0.16}, film),
          Region(record::RegionKind::kFoliage, {0.075, 0.11, 0.045}, film),
          Region(record::RegionKind::kNeutral, {0.18, 0.18, 0.18}, film),
          Region(record::RegionKind::kSky, {0.35, 0.45, 0.62}, film)};
}

Vec3 Lab(const RegionSamples& region, record::Correction c, const record::Handles& touch) {
  c.touch = touch;
  return LabUnder(region, look::Resolve(c));
}

TEST(MoveDot, ReachesTargetsAroundEveryRegion) {
  const record::Correction film = Film();
  const auto regions = Scene(film);
  for (std::size_t which = 0; which < regions.size(); ++which)
    for (const auto& [da, db] : {std::pair(3.0, 0.0), {-3.0, 2.0}, {0.0, -4.0}, {1.5, 1.5}}) {
      const Vec3 was = LabUnder(regions[which], look::Resolve(film));
      const DotMove move = MoveDot(film, regions, which, was[1] + da, was[2] + db, {});
      EXPECT_GE(move.moved.size(), 1u);
      EXPECT_LE(move.moved.size(), 2u);
      // The square root of what a second handle costs: closer than that one handle will do.
      const Vec3 now = Lab(regions[which], film, move.touch);
      EXPECT_NEAR(now[1], was[1] + da, 0.55) << record::Name(regions[which].kind) << " " << da << " " << db;
      EXPECT_NEAR(now[2], was[2] + db, 0.55) << record::Name(regions[which].kind) << " " << da << " " << db;
      EXPECT_NEAR(move.miss, std::hypot(now[1] - was[1] - da, now[2] - was[2] - db), 1e-6);
      int touched = 0;
      for (const record::HandleFacts& facts : record::AllHandles())
        touched += record::ValueOf(move.touch, facts.handle) != 0 ? 1 : 0;
      EXPECT_EQ(touched, static_cast<int>(move.moved.size())) << "no other handle was moved";
    }
}

TEST(MoveDot, SkinAloneIsTurnedWhenTheRestIsRight) {
  const record::Correction film = Film();
  const auto regions = Scene(film);
  const Vec3 was = LabUnder(regions[0], look::Resolve(film));
  const DotMove move = MoveDot(film, regions, 0, was[1] - 4, was[2] + 3, {});
  for (const Handle handle : move.moved)
    EXPECT_TRUE(handle == Handle::kSkinHue || handle == Handle::kSkinChroma) << record::FactsOf(handle).name;
  const Vec3 grey = Lab(regions[2], film, move.touch);
  EXPECT_NEAR(grey[1], regions[2].lab_scan[1], 0.3);
  EXPECT_NEAR(grey[2], regions[2].lab_scan[2], 0.3);
}

TEST(MoveDot, OneHandleWhenEverythingIsTooWarm) {
  const record::Correction film = Film();
  const auto regions = Scene(film);
  record::Correction warm = film;
  warm.touch.warmth_mired = 20;
  // Pulling the grey back to its scan is pulling the warmth back: it puts every region right.
  const DotMove move = MoveDot(warm, regions, 2, regions[2].lab_scan[1], regions[2].lab_scan[2], {});
  ASSERT_EQ(move.moved.size(), 1u);
  EXPECT_EQ(move.moved[0], Handle::kWarmth);
  EXPECT_NEAR(move.touch.warmth_mired, 0, 1.5);
}

// A darker black would bring a cast of the darks nearer too, and take the lightness of every dark place
// along.
TEST(MoveDot, PullsCastOfDarksWithoutTheirLightness) {
  const record::Correction film = Film();
  auto regions = Scene(film);
  regions.push_back(Region(record::RegionKind::kShadow, {0.014, 0.010, 0.013}, film));
  const std::size_t darks = regions.size() - 1;
  for (const auto& [da, db] : {std::pair(2.0, 0.0), {-2.0, 1.0}, {-1.5, -1.5}, {0.0, 3.0}}) {
    const Vec3 was = LabUnder(regions[darks], look::Resolve(film));
    const DotMove move = MoveDot(film, regions, darks, was[1] + da, was[2] + db, {});
    const Vec3 now = Lab(regions[darks], film, move.touch);
    EXPECT_LT(std::hypot(now[1] - was[1] - da, now[2] - was[2] - db), 0.75 * std::hypot(da, db))
        << da << " " << db;
    EXPECT_NEAR(now[0], was[0], 1.0) << da << " " << db;
  }
}

TEST(MoveDot, StaysWithinRangesAndIsFast) {
  const record::Correction film = Film();
  const auto regions = Scene(film);
  const DotMove far = MoveDot(film, regions, 0, 120, -120, {});
  EXPECT_GT(far.miss, 10) << "no skin is blue";
  for (const record::HandleFacts& facts : record::AllHandles()) {
    EXPECT_LE(record::ValueOf(far.touch, facts.handle), facts.most);
    EXPECT_GE(record::ValueOf(far.touch, facts.handle), facts.least);
  }
  double least = 1e9;
  for (int i = 0; i < 5; ++i) {
    const auto begun = std::chrono::steady_clock::now();
    MoveDot(film, regions, 0, 18 + 0.1 * i, 20, {});
    least = std::min(
        least, std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begun).count());
  }
#ifdef NDEBUG
  EXPECT_LT(least, 25) << "ms; half of the time that a dot drag has";
#endif
  RecordProperty("least_ms", std::to_string(least));
}

TEST(ToneCurves, BeforeIsTheCamerasOwn) {
  record::Photo jpeg;
  jpeg.encoding = record::Encoding::kJpeg;
  record::Correction c = Film();
  const ToneCurves tone = ToneOf(c, jpeg, std::log2(0.18), nullptr, false);
  EXPECT_TRUE(tone.scan.empty()) << "no film";
  // A picture without a tone curve to undo: display-linear 0.18 at 0 EV is density 0.745, white at 2.47 EV is
  // 0.
  int checked = 0;
  for (std::size_t i = 0; i < tone.ev.size(); ++i) {
    if (std::isnan(tone.before[i])) continue;
    EXPECT_NEAR(tone.before[i], -std::log10(0.18 * std::exp2(tone.ev[i])), 0.01) << tone.ev[i];
    ++checked;
  }
  EXPECT_GT(checked, 30);
}

TEST(LeftOver, ReasonsNameTheWorst) {
  record::LeftOver skin;
  skin.region = record::RegionKind::kSkin;
  skin.lab_aim = {60, 18, 20};
  skin.lab_off = {60, 22, 20};
  skin.off_aim = 3.3;
  EXPECT_EQ(ReasonOf({skin}, 2.5)->text, "skin is redder than in its scan by 3.3");
  EXPECT_FALSE(ReasonOf({skin}, 4));
  skin.region = record::RegionKind::kNeutral;
  EXPECT_EQ(ReasonOf({skin}, 2.5)->text, "neutrals are more magenta than in its scan by 3.3");
  EXPECT_FALSE(ReasonOf({}, 2.5));
}

}  // namespace
}  // namespace samelight::solve
