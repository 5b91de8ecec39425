#include "pair/across.h"

#include <gtest/gtest.h>

namespace samelight::pair {
namespace {

TEST(Across, AsksAroundStepsThatNothingCrosses) {
  Timeline timeline;
  for (int i = 0; i < 30; ++i) {
    timeline.order.push_back(29 - i);  // the last by index was taken first
    timeline.time_s.push_back(60.0 * (29 - i));
  }
  std::vector<FrameLink> links;
  for (int i = 0; i + 1 < 30; ++i)
    for (int k = i + 1; k < std::min(30, i + 4); ++k)
      if (i < 15 ? k < 15 : true) {
        links.emplace_back();
        links.back().a = i;
        links.back().b = k;
      }
  const auto pairs = AcrossSteps(timeline, links);
  EXPECT_EQ(pairs.count({14, 15}), 1u);
  EXPECT_EQ(pairs.count({9, 20}), 1u);
  EXPECT_EQ(pairs.count({8, 15}), 0u) << "seven away";
  for (const auto& [a, b] : pairs) EXPECT_LT(a, b);
  // A night between them says enough.
  for (int i = 0; i < 15; ++i) timeline.time_s[i] = *timeline.time_s[i] + 9 * 3600;
  EXPECT_EQ(AcrossSteps(timeline, links).count({14, 15}), 0u);
  EXPECT_TRUE(AcrossSteps({}, {}).empty());
}

}  // namespace
}  // namespace samelight::pair
