#include "pair/cuts.h"

#include <gtest/gtest.h>

namespace samelight::pair {
namespace {

// Moments of three frames one to `longest_s` apart, ten links over each step; in the middle one step of 560 s
// that nothing crosses.
std::vector<Step> Steps(int moments, double longest_s) {
  std::vector<Step> out;
  for (int m = 0; m < moments; ++m) {
    out.push_back({8.0, 10});
    out.push_back({12.0, 10});
    out.push_back({75 + (longest_s - 75) * ((7 * m) % moments) / moments, 10});
    if (m == moments / 2) out.back() = {560.0, 0};
  }
  return out;
}

TEST(Cuts, APauseIsJudgedByThePausesOfTheSession) {
  const std::size_t step = 3 * 75 + 2;
  const double quick = ChangeLogOdds(Steps(150, 420))[step], slow = ChangeLogOdds(Steps(150, 900))[step];
  EXPECT_GT(quick, 1.5) << "longer than any inside a light";
  EXPECT_LT(slow, quick - 1.5) << "as long as many";
  // A short session has seen too few pauses to be so sure.
  EXPECT_LT(ChangeLogOdds(Steps(8, 420))[3 * 4 + 2], quick);
}

TEST(Cuts, LinksAreCountedAgainstWhatIsUsual) {
  std::vector<Step> steps(9, Step{10.0, 12});
  steps[3].crossing = 3;
  steps[5].crossing = 0;
  const std::vector<Crossed> crossed = HowCrossed(steps);
  EXPECT_EQ(crossed[2], Crossed::kUsual);
  EXPECT_EQ(crossed[3], Crossed::kFew);
  EXPECT_EQ(crossed[5], Crossed::kNone);
  EXPECT_TRUE(HowCrossed({}).empty());
}

TEST(Cuts, OnlyLinksOfMomentsNearInTimeTellAboutTheStepsBetween) {
  std::vector<Moment> moments(40);
  for (int i = 0; i < 40; ++i) moments[i].time_s = 60.0 * i + (i > 5 ? 3600 : 0);
  EXPECT_EQ(NearLinks(moments, {{9, 7}, {4, 8}, {10, 35}}), (std::vector<Link>{{7, 9}}));
  moments[4].time_s.reset();  // not known to be far
  EXPECT_EQ(NearLinks(moments, {{8, 4}}), (std::vector<Link>{{4, 8}}));
}

}  // namespace
}  // namespace samelight::pair
