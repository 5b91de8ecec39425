#include "pair/matcher.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace samelight::pair {
namespace {

measure::Features RandomFeatures(int count, unsigned seed) {
  std::mt19937 random(seed);
  measure::Features f;
  f.points.resize(count);
  for (int i = 0; i < count * measure::kLocalSize; ++i)
    f.local.push_back(static_cast<std::uint8_t>(random() % 256));
  return f;
}

// The plain definition, in double precision.
std::vector<Match> BySearch(const measure::Features& a, const measure::Features& b, float most_ratio) {
  auto distance = [&](std::size_t i, std::size_t j) {
    double sum = 0;
    for (int k = 0; k < measure::kLocalSize; ++k) {
      const double d = double(a.local[i * measure::kLocalSize + k]) - b.local[j * measure::kLocalSize + k];
      sum += d * d;
    }
    return std::sqrt(sum);
  };
  std::vector<Match> out;
  for (std::size_t i = 0; i < a.points.size(); ++i) {
    double d1 = 1e300, d2 = 1e300;
    std::size_t best = 0;
    for (std::size_t j = 0; j < b.points.size(); ++j) {
      const double d = distance(i, j);
      if (d < d1) {
        d2 = d1;
        d1 = d;
        best = j;
      } else if (d < d2) {
        d2 = d;
      }
    }
    bool mutual = true;
    for (std::size_t other = 0; other < a.points.size(); ++other)
      if (distance(other, best) < d1) mutual = false;
    if (mutual && d1 / d2 < most_ratio) out.push_back({int(i), int(best), float(d1 / d2)});
  }
  return out;
}

TEST(Matcher, EqualsThePlainDefinitionForOddSizes) {
  for (const auto& [na, nb] : {std::pair{37, 61}, {64, 16}, {3, 2}, {130, 33}, {2, 129}}) {
    const measure::Features a = RandomFeatures(na, 1 + na), b = RandomFeatures(nb, 1000 + nb);
    const auto found = TargetSide(b, 1000).Find(QuerySide(a, 1000), 0.999f);
    const auto expected = BySearch(a, b, 0.999f);
    ASSERT_EQ(found.size(), expected.size()) << na << " x " << nb;
    ASSERT_FALSE(expected.empty());
    for (std::size_t i = 0; i < found.size(); ++i) {
      EXPECT_EQ(found[i].a, expected[i].a);
      EXPECT_EQ(found[i].b, expected[i].b);
      EXPECT_NEAR(found[i].ratio, expected[i].ratio, 1e-4);
    }
  }
}

TEST(Matcher, UsesOnlyTheFirstFeaturesAskedFor) {
  const measure::Features a = RandomFeatures(40, 5);
  const auto found = TargetSide(a, 40).Find(QuerySide(a, 10), 0.5f);
  ASSERT_EQ(found.size(), 10u);
  for (const Match& m : found) EXPECT_EQ(m.a, m.b);
}

TEST(Matcher, TooFewDescriptorsMatchNothing) {
  EXPECT_TRUE(TargetSide(RandomFeatures(1, 1), 9).Find(QuerySide(RandomFeatures(5, 2), 9), 0.99f).empty());
  EXPECT_TRUE(TargetSide(RandomFeatures(0, 1), 9).Find(QuerySide(RandomFeatures(0, 2), 9), 0.99f).empty());
}

}  // namespace
}  // namespace samelight::pair
