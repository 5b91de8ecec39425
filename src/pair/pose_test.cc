#include "pair/pose.h"

#include <gtest/gtest.h>

#include <cmath>

#include "pair/cells.h"
#include "pair/evidence.h"
#include "pair/reframe_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;

// A seen picture with all that is needed to compare it.
struct Seen {
  explicit Seen(image::RgbF pixels) {
    analysis.pixels = std::move(pixels);
    features = measure::ExtractFeatures(analysis);
  }
  View view() const { return {features, analysis.pixels.width(), analysis.pixels.height()}; }
  measure::Analysis analysis;
  measure::Features features;
};

Pose Compare(const Seen& a, const Seen& b) {
  const View va = a.view(), vb = b.view();
  const Verified v = Verify(va, vb, 1000);
  EXPECT_TRUE(Verifies(v));
  const auto cells = MatchCells(Prepare(a.analysis), Prepare(b.analysis), v, 400, true);
  return PosesOf(va, {{&v, &cells, vb}}).of[0];
}

TEST(Pose, TheFrameInWhichNobodyMovedIsTheLikelier) {
  int right = 0, all = 0;
  for (int scene = 0; scene < 4; ++scene) {
    const image::RgbF place = Painted(900 + scene, 900, 675);
    // Two people in each state; the scan sees the first state, from elsewhere and on film.
    const auto state = [&](double by) {
      return Slid(Slid(place, 300, 300, 130, by, -by / 2), 620, 400, 140, -by, by / 2);
    };
    Dice dice(scene);
    Framing near;
    near.width_px = 720;
    near.height_px = 540;
    near.angle_deg = 1.5;
    near.zoom = 1.15;
    const Seen scan(SeenAgain(state(0), near, AnotherRendering(dice), 3));
    const Rendering plain{0, 0, 1, 0, 0.01, false};
    Framing wide;
    wide.width_px = 720;
    wide.height_px = 540;
    const Pose same = Compare(scan, Seen(SeenAgain(state(0), wide, plain, 4)));
    const Pose other = Compare(scan, Seen(SeenAgain(state(22), wide, plain, 4)));
    EXPECT_LT(same.moved_px, other.moved_px) << scene;
    EXPECT_GT(same.still, other.still) << scene;
    right += PoseLog(same) > PoseLog(other) + 1;
    ++all;
  }
  EXPECT_EQ(right, all);
}

// Cells of a picture that is the same but for a part that stands elsewhere in the scan, for some frames.
std::vector<record::Cell> CellsWith(double by_px) {
  std::vector<record::Cell> cells;
  for (int y = 0; y < 18; ++y)
    for (int x = 0; x < 24; ++x) {
      record::Cell c;
      c.ax = c.bx = static_cast<float>((x + 0.5) / 24);
      c.ay = c.by = static_cast<float>((y + 0.5) / 18);
      if (x >= 10 && x < 14 && y >= 6 && y < 12) c.bx += static_cast<float>(by_px / kPlaceSide);
      cells.push_back(c);
    }
  return cells;
}

TEST(Pose, AFrameThatAloneAgreesWithTheScanStandsOut) {
  const Seen a(Painted(910, 720, 540));
  const View view = a.view();
  const Verified v = Verify(view, view, 1000);
  const auto away = CellsWith(8), here = CellsWith(0);
  std::vector<Other> frames(7, {&v, &away, view});
  frames[3].cells = &here;
  const std::vector<Pose> poses = PosesOf(view, frames).of;
  // 24 of 432 cells, each 8 px away: 24 x 64 / 432, less what the smooth map bends.
  EXPECT_NEAR(poses[3].alone_px2, 24 * 64 / 432.0, 0.4);
  for (int i : {0, 1, 6}) EXPECT_NEAR(poses[i].alone_px2, 0, 0.05);
  EXPECT_LT(poses[3].moved_px, 0.05);
  EXPECT_NEAR(poses[0].moved_px, 24 * 8 / 432.0, 0.2);
}

TEST(Pose, WithoutCellsAllCountsAsMoved) {
  const Seen a(Painted(910, 720, 540));
  const Verified v = Verify(a.view(), a.view(), 1000);
  const std::vector<record::Cell> none;
  const Pose pose = PosesOf(a.view(), {{&v, &none, a.view()}}).of[0];
  EXPECT_EQ(pose.moved_px, 12);
  EXPECT_EQ(pose.alone_px2, 0);
  EXPECT_GT(pose.still, 0.9);
}

// Poses of one state differ by framing and noise; only where somebody moved do they tell one moment from
// another.
TEST(Pose, TheyTellWhereSomebodyMovedBetweenTheFrames) {
  const image::RgbF place = Painted(930, 900, 675);
  const auto state = [&](double by) {
    image::RgbF out = place;
    for (int k = 0; k < 4; ++k) out = Slid(out, 150 + 190 * k, 200 + 90 * k, 140, by, k % 2 ? by : -by);
    return out;
  };
  const auto apart = [&](double by, std::uint64_t dice_seed) {
    Dice dice(dice_seed);
    const auto seen = [&](double moved, const Rendering& r, std::uint64_t seed) {
      Framing f = AnotherFraming(dice);
      f.width_px = 720;
      f.height_px = 540;
      return Seen(SeenAgain(state(moved), f, r, seed));
    };
    const Seen scan = seen(0, AnotherRendering(dice), 3);
    std::vector<Seen> frames;
    for (std::uint64_t k = 0; k < 4; ++k)
      frames.push_back(seen(k < 2 ? 0 : by, {0, 0, 1, 0, 0.01, false}, 4 + k));
    std::vector<Verified> verified;
    std::vector<std::vector<record::Cell>> cells;
    std::vector<Other> others;
    for (const Seen& f : frames) {
      verified.push_back(Verify(scan.view(), f.view(), 1000));
      cells.push_back(MatchCells(Prepare(scan.analysis), Prepare(f.analysis), verified.back(), 400, true));
    }
    for (std::size_t k = 0; k < frames.size(); ++k)
      others.push_back({&verified[k], &cells[k], frames[k].view()});
    return PosesOf(scan.view(), others).apart;
  };
  constexpr int kSeeds = 4;
  double told_still = 0, told_moved = 0;
  for (std::uint64_t seed = 4; seed < 4 + kSeeds; ++seed) {
    const double still = apart(0, seed), moved = apart(14, seed);
    EXPECT_GT(moved, 2 * still);
    told_still += PosesTell(still) / kSeeds;
    told_moved += PosesTell(moved) / kSeeds;
    std::printf("seed %d: %.3f still, %.3f moved\n", static_cast<int>(seed), PosesTell(still),
                PosesTell(moved));
  }
  EXPECT_LT(told_still, 0.6);
  EXPECT_GT(told_moved, 0.9);
}

TEST(Pose, WhatPosesSayIsBounded) {
  EXPECT_TRUE(BehindTheLikeliest({}, 0.9).empty());
  EXPECT_NEAR(BehindTheLikeliest({7}, 0.9)[0], 0, 1e-12);
  const std::vector<double> behind = BehindTheLikeliest({3, 1, -50, 3}, 0.9);
  EXPECT_NEAR(behind[0], 0, 1e-12);
  EXPECT_NEAR(behind[3], 0, 1e-12);
  EXPECT_LT(behind[1], -1);
  EXPECT_GT(behind[1], -2);
  // Poses that tell nothing leave all alike.
  for (double b : BehindTheLikeliest({3, 1, -50}, 0)) EXPECT_NEAR(b, 0, 1e-12);
  EXPECT_EQ(PosesTell(0), 0);
  // By hand: shares of 0.9 x 4 / (2 + exp(-2)) and 0.1.
  EXPECT_NEAR(behind[2], std::log(0.1 / (3.6 / (2 + std::exp(-2)) + 0.1)), 1e-9);
}

}  // namespace
}  // namespace samelight::pair
