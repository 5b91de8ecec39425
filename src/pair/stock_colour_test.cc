#include "pair/stock_colour.h"

#include <gtest/gtest.h>

#include <cmath>
#include <deque>
#include <random>

namespace samelight::pair {
namespace {

// An invented film on log2 axes: crossed channels, a slope and a curve, drawn by chance.
struct Stock {
  double mix[3][3], slope, curve;
  explicit Stock(std::mt19937& random) {
    std::normal_distribution<double> normal(0, 1);
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) mix[i][j] = (i == j ? 1.1 : -0.05) + 0.1 * normal(random);
    slope = 0.95 + 0.08 * normal(random);
    curve = -0.05 + 0.015 * normal(random);
  }
};

// A roll of `scans` on a stock: every scan of another place (its own range of colours), with the lab's own
// density and colour, and noise of cells.
std::deque<record::Correspondence> Roll(const Stock& stock, int scans, std::mt19937& random, int first) {
  std::normal_distribution<double> normal(0, 1);
  std::deque<record::Correspondence> out;
  for (int s = 0; s < scans; ++s) {
    record::Correspondence c;
    c.a = PhotoId{first + s};
    const double place[3] = {0.3 * normal(random), 0.3 * normal(random), 0.5 * normal(random)};
    const double lab[3] = {0.15 * normal(random), 0.15 * normal(random), 0.3 * normal(random)};
    for (int i = 0; i < 300; ++i) {
      record::Cell cell;
      const double level = -2.5 + place[2] + 0.8 * normal(random);
      const double chroma[3] = {place[0] + 0.4 * normal(random), 0, place[1] + 0.4 * normal(random)};
      for (int k = 0; k < 3; ++k) {
        double v = -2 + stock.slope * (level + 2.5) + stock.curve * (level + 2.5) * (level + 2.5) + lab[2] +
                   (k == 0   ? lab[0]
                    : k == 2 ? lab[1]
                             : 0) +
                   0.08 * normal(random);
        for (int j = 0; j < 3; ++j) v += stock.mix[k][j] * chroma[j];
        cell.a_rgb[k] = static_cast<float>(std::exp2(v));
        cell.b_rgb[k] = static_cast<float>(std::exp2(level + chroma[k]));
      }
      c.cells.push_back(cell);
    }
    out.push_back(c);
  }
  return out;
}

RollColour Of(const std::deque<record::Correspondence>& roll) {
  std::vector<const record::Correspondence*> matches;
  for (const auto& c : roll) matches.push_back(&c);
  return ColourOf(matches);
}

TEST(StockColour, TwoStocksAreToldApartAndTwoRollsOfOneAreNot) {
  int apart = 0, falsely = 0;
  constexpr int kTrials = 20;
  for (unsigned trial = 0; trial < kTrials; ++trial) {
    std::mt19937 random(trial + 100);
    const Stock one(random), other(random);
    const RollColour a = Of(Roll(one, 10, random, 0)), b = Of(Roll(one, 8, random, 20)),
                     c = Of(Roll(other, 8, random, 40));
    EXPECT_EQ(a.scans, 10);
    falsely += RenderUnlike(a, b);
    apart += RenderUnlike(a, c);
  }
  EXPECT_EQ(falsely, 0);
  EXPECT_GE(apart, kTrials * 9 / 10);
}

TEST(StockColour, FewScansSayNothing) {
  std::mt19937 random(7);
  const Stock one(random), other(random);
  EXPECT_FALSE(RenderUnlike(Of(Roll(one, 3, random, 0)), Of(Roll(other, 12, random, 20))));
  EXPECT_EQ(ColourOf({}).scans, 0);
}

}  // namespace
}  // namespace samelight::pair
