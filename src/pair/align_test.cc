#include "pair/align.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

namespace samelight::pair {
namespace {

// Scan i shows frame at[i] (-1: none). Sure pictures say 9, and 5 more frames say something at random.
LogRatios Ratios(const std::vector<int>& at, int frames, double sure, unsigned seed) {
  std::mt19937 random(seed);
  LogRatios out(at.size(), std::vector<double>(frames, -1.5));
  for (std::size_t i = 0; i < at.size(); ++i) {
    for (int k = 0; k < 5; ++k)
      out[i][random() % frames] = std::uniform_real_distribution<double>(-2, 1)(random);
    if (at[i] >= 0) out[i][at[i]] = sure;
  }
  return out;
}

int Best(const std::vector<double>& row) {
  return static_cast<int>(std::max_element(row.begin(), row.end()) - row.begin());
}
double Sum(const std::vector<double>& row) {
  double s = 0;
  for (double v : row) s += v;
  return s;
}

const std::vector<int> kRoll{3, 9, 14, 22, 30, 33, 41, 52, 58, 66, 70, 77};

TEST(Align, FollowsARollInBothDirections) {
  for (const bool reversed : {false, true}) {
    std::vector<int> at = kRoll;
    if (reversed) std::reverse(at.begin(), at.end());
    const Alignment a = AlignRoll(Ratios(at, 80, 6, 1));
    EXPECT_EQ(a.reversed, reversed);
    for (std::size_t i = 0; i < at.size(); ++i) {
      EXPECT_EQ(Best(a.match[i]), at[i]);
      EXPECT_GT(a.match[i][at[i]], 0.8);
      EXPECT_LE(Sum(a.match[i]), 1 + 1e-9);
    }
  }
}

TEST(Align, OrderDecidesBetweenTwoVisitsOfOnePlace) {
  LogRatios ratios = Ratios(kRoll, 80, 6, 2);
  ratios[5][70] = 6;  // scan 5 looks as much like frame 70 as like its own, 33
  const Alignment a = AlignRoll(ratios);
  EXPECT_GT(a.match[5][33], 0.8);
  EXPECT_LT(a.match[5][70], 0.15);
}

TEST(Align, AScanThatNoFrameShowsMatchesNone) {
  std::vector<int> at = kRoll;
  at[4] = at[8] = -1;
  const Alignment a = AlignRoll(Ratios(at, 80, 6, 3));
  EXPECT_LT(Sum(a.match[4]), 0.5);
  EXPECT_LT(Sum(a.match[8]), 0.5);
  EXPECT_GT(a.match[5][33], 0.8);
}

TEST(Align, AStrongMatchOutOfOrderKeepsItsOwnEvidence) {
  std::vector<int> at = kRoll;
  std::swap(at[2], at[10]);
  const Alignment a = AlignRoll(Ratios(at, 80, 12, 4));
  for (std::size_t i = 0; i < at.size(); ++i) EXPECT_GT(a.match[i][at[i]], 0.8) << i;
}

TEST(Align, DroppingHalfOfTheScansOrShufflingThemChangesNoSureMatch) {
  std::vector<int> half;
  for (std::size_t i = 0; i < kRoll.size(); i += 2) half.push_back(kRoll[i]);
  std::vector<int> shuffled = kRoll;
  std::mt19937 random(6);
  std::shuffle(shuffled.begin(), shuffled.end(), random);
  for (const auto& at : {half, shuffled}) {
    const Alignment a = AlignRoll(Ratios(at, 80, 14, 5));
    for (std::size_t i = 0; i < at.size(); ++i) EXPECT_GT(a.match[i][at[i]], 0.8) << i;
  }
}

TEST(Align, OneScanAndNone) {
  EXPECT_EQ(Best(AlignRoll(Ratios({4}, 9, 8, 7)).match[0]), 4);
  EXPECT_TRUE(AlignRoll({}).match.empty());
}

}  // namespace
}  // namespace samelight::pair
