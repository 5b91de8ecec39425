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
  return PoseOf(va, vb, v, MatchCells(Prepare(a.analysis), Prepare(b.analysis), v, 400));
}

// Somebody in the picture moved: what lies within `radius` of (x, y) slides by (dx, dy), all in px.
image::RgbF Slid(const image::RgbF& in, double x, double y, double radius, double dx, double dy) {
  image::RgbF out = in;
  for (int v = 0; v < in.height(); ++v)
    for (int u = 0; u < in.width(); ++u) {
      const double d2 = ((u - x) * (u - x) + (v - y) * (v - y)) / (radius * radius);
      const double share = std::exp(-d2 * d2);
      const int fu = std::clamp(static_cast<int>(std::lround(u - share * dx)), 0, in.width() - 1);
      const int fv = std::clamp(static_cast<int>(std::lround(v - share * dy)), 0, in.height() - 1);
      std::copy_n(in.at(fu, fv), 3, out.at(u, v));
    }
  return out;
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

TEST(Pose, WithoutCellsAllCountsAsMoved) {
  const Seen a(Painted(910, 720, 540));
  const Verified v = Verify(a.view(), a.view(), 1000);
  EXPECT_EQ(PoseOf(a.view(), a.view(), v, {}).moved_px, 12);
  EXPECT_GT(PoseOf(a.view(), a.view(), v, {}).still, 0.9);
}

TEST(Pose, WhatPosesSayIsBounded) {
  EXPECT_TRUE(BehindTheLikeliest({}).empty());
  EXPECT_NEAR(BehindTheLikeliest({7})[0], 0, 1e-12);
  const std::vector<double> behind = BehindTheLikeliest({3, 1, -50, 3});
  EXPECT_NEAR(behind[0], 0, 1e-12);
  EXPECT_NEAR(behind[3], 0, 1e-12);
  EXPECT_LT(behind[1], -1);
  EXPECT_GT(behind[1], -2);
  // By hand: shares of 0.9 x 4 / (2 + exp(-2)) and 0.1.
  EXPECT_NEAR(behind[2], std::log(0.1 / (3.6 / (2 + std::exp(-2)) + 0.1)), 1e-9);
}

}  // namespace
}  // namespace samelight::pair
