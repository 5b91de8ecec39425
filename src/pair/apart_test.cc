#include "pair/apart.h"

#include <gtest/gtest.h>

#include <random>

namespace samelight::pair {
namespace {

// A frame whose things lie within some noise of where a smooth map expects them, but for those in the middle.
std::vector<Stray> Frame(unsigned seed, double noise_px, double middle_px, int places = 20) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0, noise_px);
  std::vector<Stray> out;
  for (int y = 0; y < places; ++y)
    for (int x = 0; x < places; ++x) {
      Stray s{(x + 0.5) / places, (y + 0.5) / places, {normal(random), normal(random)}};
      if (s.x > 0.3 && s.x < 0.7) s.by_px[0] += middle_px;
      out.push_back(s);
    }
  return out;
}

TEST(HowFarApart, IsInPartsOfTheNoise) {
  const double still = HowFarApart({Frame(1, 0.5, 0), Frame(2, 0.5, 0), Frame(3, 0.5, 0)});
  EXPECT_NEAR(still, 0.75, 0.35);  // middles of some four places each, over the scatter about one
  EXPECT_NEAR(HowFarApart({Frame(1, 2, 0), Frame(2, 2, 0), Frame(3, 2, 0)}), still, 0.3);
  EXPECT_GT(HowFarApart({Frame(1, 0.5, 0), Frame(2, 0.5, 5), Frame(3, 0.5, -5)}), 2.5 * still);
}

TEST(HowFarApart, OneOfManyFramesThatStrayedIsNotAsked) {
  const double still = HowFarApart({Frame(1, 0.5, 0), Frame(2, 0.5, 0), Frame(3, 0.5, 0), Frame(4, 0.5, 0)});
  EXPECT_NEAR(
      HowFarApart({Frame(1, 0.5, 0), Frame(2, 0.5, 0), Frame(3, 0.5, 0), Frame(4, 0.5, 0), Frame(5, 0.5, 9)}),
      still, 0.3);
}

TEST(HowFarApart, IsNotKnownWithoutPlacesInCommon) {
  EXPECT_EQ(HowFarApart({}), 0);
  EXPECT_EQ(HowFarApart({Frame(1, 0.5, 0)}), 0);
  EXPECT_EQ(HowFarApart({Frame(1, 0.5, 0), {}}), 0);
  EXPECT_EQ(HowFarApart({Frame(1, 0.5, 0, 6), Frame(2, 0.5, 0, 6)}), 0);  // a place in every other tile
}

}  // namespace
}  // namespace samelight::pair
