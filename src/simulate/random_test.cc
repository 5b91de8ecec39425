#include "simulate/random.h"

#include <gtest/gtest.h>

namespace samelight::simulate {
namespace {

// SplitMix64 from seed 1234567, outputs 2 to 5 as widely published (from memory); the constructor uses up the
// first.
TEST(Random, IsSplitMix64) {
  Random random(1234567);
  EXPECT_EQ(random.Next(), 3203168211198807973ull);
  EXPECT_EQ(random.Next(), 9817491932198370423ull);
  EXPECT_EQ(random.Next(), 4593380528125082431ull);
  EXPECT_EQ(random.Next(), 16408922859458223821ull);
}

TEST(Random, NamesMakeOwnStreams) {
  Random a(5, {1, 2}), b(5, {2, 1}), c(5, {1, 2});
  const auto first = a.Next();
  EXPECT_NE(first, b.Next());
  EXPECT_EQ(first, c.Next());
}

TEST(Random, NormalsHaveTheirMoments) {
  Random random(7);
  double mean = 0, square = 0, quick_mean = 0, quick_square = 0;
  constexpr int kCount = 200000;
  for (int i = 0; i < kCount; ++i) {
    const double v = random.Normal(2, 3), q = random.QuickNormal();
    mean += v / kCount;
    square += (v - 2) * (v - 2) / kCount;
    quick_mean += q / kCount;
    quick_square += q * q / kCount;
  }
  // Four standard errors.
  EXPECT_NEAR(mean, 2, 4 * 3 / std::sqrt(kCount));
  EXPECT_NEAR(square, 9, 4 * 9 * std::sqrt(2.0 / kCount));
  EXPECT_NEAR(quick_mean, 0, 4 / std::sqrt(kCount));
  EXPECT_NEAR(quick_square, 1, 4 * std::sqrt(2.0 / kCount));
}

}  // namespace
}  // namespace samelight::simulate
