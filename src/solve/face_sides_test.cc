#include "solve/face_sides.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "solve/left_over.h"
#include "solve/skin_spread.h"

namespace samelight::solve {
namespace {

using record::Side;

std::vector<double> Lightness(double low, double high, int lows, int highs) {
  std::mt19937 random(3);
  std::normal_distribution<double> normal;
  std::vector<double> all;
  for (int i = 0; i < lows + highs; ++i) all.push_back((i < lows ? low : high) + 2 * normal(random));
  return all;
}

long CountOf(const std::vector<Side>& sides, Side side) {
  return std::count(sides.begin(), sides.end(), side);
}

TEST(FaceSides, LitAndShadedAreToldApart) {
  const std::vector<Side> sides = SidesOf(Lightness(45, 70, 30, 50));
  EXPECT_EQ(CountOf(sides, Side::kShaded), 30);
  EXPECT_EQ(CountOf(sides, Side::kLit), 50);
  EXPECT_EQ(sides.front(), Side::kShaded);
  EXPECT_EQ(sides.back(), Side::kLit);
}

TEST(FaceSides, AnEvenFaceIsOneSide) {
  EXPECT_EQ(CountOf(SidesOf(Lightness(60, 65, 40, 40)), Side::kWhole), 80);
  EXPECT_EQ(CountOf(SidesOf(Lightness(45, 70, 5, 60)), Side::kWhole), 65);  // too few places in the shade
  EXPECT_TRUE(SidesOf({}).empty());
}

// A face whose shaded side came out too red, beside a lit side that fits.
TEST(FaceSides, TheWorstSideIsReported) {
  record::Correspondence matched;
  for (int i = 0; i < 60; ++i) {
    record::Cell cell;
    cell.region = record::RegionKind::kSkin;
    cell.face = 0;
    const float level = i < 20 ? 0.12f : 0.45f;
    const float scan[3] = {level, 0.72f * level, 0.55f * level};
    std::copy_n(scan, 3, cell.a_rgb);
    std::copy_n(scan, 3, cell.b_rgb);
    if (i < 20) cell.b_rgb[0] *= 1.15f;
    matched.cells.push_back(cell);
  }
  record::Photo frame;
  frame.encoding = record::Encoding::kJpeg;
  // A look that shows about what the frame shows would do; here only the order of what is left matters, so
  // the scan's places are what the same look makes of the unharmed colours.
  const look::Resolved resolved = look::Resolve(record::Correction{});
  for (std::size_t i = 0; i < matched.cells.size(); ++i) {
    record::Cell& cell = matched.cells[i];
    const double level = i < 20 ? 0.12 : 0.45;
    const Vec3 shown = look::Evaluate(resolved, {level, 0.72 * level, 0.55 * level});
    for (int c = 0; c < 3; ++c) cell.a_rgb[c] = static_cast<float>(shown[c]);
  }
  const std::vector<record::LeftOver> left = MeasureLeftOver(matched, frame, 0, record::Correction{});
  ASSERT_EQ(left.size(), 3u);  // the face, and both sides
  EXPECT_EQ(left[0].side, Side::kShaded);
  EXPECT_GT(left[0].after, 2.5);
  EXPECT_EQ(left[0].cells, 20);
  EXPECT_LT(left[1].after, 0.5);
  EXPECT_LT(left[2].after, 0.5);
  const std::string reason = ReasonOf(left, 2.5)->text;
  EXPECT_NE(reason.find("redder"), std::string::npos) << reason;
  EXPECT_NE(reason.find("shaded side of face 1"), std::string::npos) << reason;
}

TEST(SkinSpread, IsTheDeviationInsideALight) {
  std::vector<record::FrameSolution> frames(5);
  std::unordered_map<PhotoId, record::Measured> measured;
  std::vector<Vec3> labs;
  for (int i = 0; i < 5; ++i) {
    frames[i].frame = {i};
    frames[i].light = {i < 4 ? 1 : 2};
    record::RegionStat skin;
    skin.kind = record::RegionKind::kSkin;
    skin.area = i == 3 ? 0.001 : 0.05;  // one is too small to count
    skin.quantiles[2] = {0.3 + 0.02 * i, 0.22, 0.17};
    measured[{i}].regions = {skin};
    labs.push_back(LabOfDisplay(look::Evaluate(look::Resolve(frames[i].correction), skin.quantiles[2])));
  }
  const std::vector<SkinSpread> spreads = SkinSpreads(frames, measured);
  ASSERT_EQ(spreads.size(), 1u);  // the second light has one frame only
  EXPECT_EQ(spreads[0].frames, 3);
  for (int c = 0; c < 3; ++c) {
    const double mean = (labs[0][c] + labs[1][c] + labs[2][c]) / 3;
    double square = 0;
    for (int i = 0; i < 3; ++i) square += (labs[i][c] - mean) * (labs[i][c] - mean) / 2;
    EXPECT_NEAR(spreads[0].sigma[c], std::sqrt(square), 1e-9);
  }
}

}  // namespace
}  // namespace samelight::solve
