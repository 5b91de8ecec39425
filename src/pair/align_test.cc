#include "pair/align.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
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

TEST(Align, AnOrderlyRollBindsItsDoubtfulScanAndAShuffledOneDoesNot) {
  // Scan 5 looks more like frame 70 than like 33, between its neighbours.
  LogRatios ratios = Ratios(kRoll, 80, 12, 8);
  ratios[5][33] = 8;
  ratios[5][70] = 11;
  EXPECT_GT(AlignRoll(ratios).match[5][33], 0.9);
  std::vector<int> order(kRoll.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = static_cast<int>(i);
  std::shuffle(order.begin(), order.end(), std::mt19937(9));
  LogRatios shuffled;
  for (int i : order) shuffled.push_back(ratios[i]);
  const auto at = std::find(order.begin(), order.end(), 5) - order.begin();
  // Without order it is what the two pictures say, e^3 to one, in any order of the files.
  EXPECT_NEAR(AlignRoll(ratios).alone[5][70], 0.95, 0.01);
  EXPECT_NEAR(AlignRoll(shuffled).alone[at][70], AlignRoll(ratios).alone[5][70], 1e-12);
  EXPECT_GT(AlignRoll(shuffled).match[at][70], 0.7);
  EXPECT_GT(AlignRoll(ratios).in_order, 0.99);
  EXPECT_LT(AlignRoll(shuffled).in_order, 0.2);
  EXPECT_GT(AlignRoll(ratios).untouched, 0.8);
  EXPECT_LT(AlignRoll(shuffled).untouched, 0.01);
  // Two files out of place: an order still, but not an untouched one.
  LogRatios disturbed = ratios;
  std::swap(disturbed[1], disturbed[8]);
  EXPECT_GT(AlignRoll(disturbed).in_order, 0.5);
  EXPECT_LT(AlignRoll(disturbed).untouched, 0.5);
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

// Invented rolls whose pictures say no more than they know: log ratios of Gaussian evidence with mean +-s^2/2
// and deviation s are exact log likelihood ratios (a property of the Gaussian with equal variances). Then
// stated probabilities must come true: in each bin of at least 30 the 95 % binomial interval holds the mean
// that was stated.
TEST(Align, StatedProbabilitiesComeTrue) {
  constexpr int kFrames = 120, kScans = 12, kRolls = 300, kBins = 5;
  constexpr double kSpread = 3.2;
  double stated[kBins] = {};
  int count[kBins] = {}, right[kBins] = {};
  std::mt19937 random(11);
  std::uniform_real_distribution<double> uniform(0, 1);
  std::normal_distribution<double> normal(0, 1);
  std::exponential_distribution<double> step(1 / (1.5 * kFrames / kScans));
  for (int roll = 0; roll < kRolls; ++roll) {
    // As orderly as the model expects rolls to be: most as they left the camera, some not quite, a few
    // shuffled.
    const double habit = uniform(random);
    const double astray = habit < 0.8 ? 0.004 : habit < 0.95 ? 0.06 : 0.6;
    const double jump = habit < 0.8 ? 0.004 : habit < 0.95 ? 0.02 : 0.1;
    LogRatios ratios(kScans, std::vector<double>(kFrames));
    std::vector<int> at(kScans);
    double place = uniform(random) * kFrames;
    for (int i = 0; i < kScans; ++i) {
      place += i ? step(random) : 0;
      if (place >= kFrames || uniform(random) < jump) place = uniform(random) * kFrames;
      const int here =
          uniform(random) < astray ? static_cast<int>(uniform(random) * kFrames) : static_cast<int>(place);
      at[i] = uniform(random) < 0.6 ? here : -1;
      for (int j = 0; j < kFrames; ++j)
        ratios[i][j] = (j == at[i] ? 0.5 : -0.5) * kSpread * kSpread + kSpread * normal(random);
    }
    const Alignment a = AlignRoll(ratios);
    for (int i = 0; i < kScans; ++i) {
      const int best = Best(a.match[i]);
      const double p = a.match[i][best];
      const int bin = std::min(static_cast<int>(p * kBins), kBins - 1);
      stated[bin] += p;
      ++count[bin];
      right[bin] += best == at[i];
    }
  }
  int judged = 0;
  for (int b = 0; b < kBins; ++b) {
    if (count[b] < 30) continue;
    ++judged;
    // Wilson's interval (1927), z = 1.96.
    const double n = count[b], p = right[b] / n, z = 1.96, middle = (p + z * z / (2 * n)) / (1 + z * z / n);
    const double half = z / (1 + z * z / n) * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n));
    EXPECT_NEAR(stated[b] / n, middle, half)
        << "bin " << b << ": stated " << stated[b] / n << ", came true " << p << " of " << count[b];
  }
  EXPECT_GE(judged, 4);
}

TEST(Align, OneScanAndNone) {
  EXPECT_EQ(Best(AlignRoll(Ratios({4}, 9, 8, 7)).match[0]), 4);
  EXPECT_TRUE(AlignRoll({}).match.empty());
}

}  // namespace
}  // namespace samelight::pair
