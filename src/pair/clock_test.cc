#include "pair/clock.h"

#include <gtest/gtest.h>

#include <random>

namespace samelight::pair {
namespace {

// Two bodies at one wedding: frames that show the same things lie within a moment (seconds) or within a place
// (minutes).
std::vector<ClockLink> Links(double offset_s, int moments, int places, std::mt19937& random, int a = 0,
                             int b = 1) {
  std::normal_distribution<double> moment(0, 12), place(0, 500);
  std::vector<ClockLink> out;
  for (int i = 0; i < moments; ++i) out.push_back({a, b, -offset_s + moment(random), 1});
  for (int i = 0; i < places; ++i) out.push_back({a, b, -offset_s + place(random), 1});
  return out;
}

TEST(Clock, FindsTheOffsetAmongLinksOfPlacesThatWereVisitedForMinutes) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 random(seed);
    const double offset = std::uniform_real_distribution<double>(-5000, 5000)(random);
    const auto clocks = EstimateClocks(2, Links(offset, 25, 25, random));
    EXPECT_NEAR(clocks[1].offset_s, offset, 15) << seed;
    EXPECT_GT(clocks[1].confidence, 0.5) << seed;
    EXPECT_EQ(clocks[0].offset_s, 0);
  }
}

TEST(Clock, KnowsNothingWithoutLinks) {
  const auto clocks = EstimateClocks(3, {});
  ASSERT_EQ(clocks.size(), 3u);
  EXPECT_EQ(clocks[2].offset_s, 0);
  EXPECT_EQ(clocks[2].confidence, 0);
  EXPECT_EQ(EstimateClocks(0, {}).size(), 1u);
}

TEST(Clock, LinksThatDisagreeGiveLittleConfidence) {
  std::mt19937 random(3);
  std::vector<ClockLink> links;
  for (int i = 0; i < 12; ++i)
    links.push_back({0, 1, std::uniform_real_distribution<double>(-20000, 20000)(random), 1});
  EXPECT_LT(EstimateClocks(2, links)[1].confidence, 0.35);
}

TEST(Clock, ReachesAThirdBodyOverTheSecond) {
  std::mt19937 random(4);
  auto links = Links(600, 20, 5, random);
  for (const ClockLink& l : Links(-250, 20, 5, random, 2, 1)) links.push_back(l);  // body 1 against body 2
  const auto clocks = EstimateClocks(3, links);
  EXPECT_NEAR(clocks[1].offset_s, 600, 15);
  EXPECT_NEAR(clocks[2].offset_s, 850, 25);
}

}  // namespace
}  // namespace samelight::pair
