#include "color/difference.h"

#include <cmath>
#include <limits>
#include <random>

#include "color/published_test.h"

namespace samelight::color {
namespace {

// Sharma, Wu, Dalal 2005, Table 1: all 34 pairs to the 4 printed decimals, both orders.
TEST(Difference, EveryPublishedPairInBothOrders) {
  for (const Row& row : Published("ciede2000_pairs.csv", 34)) {
    const Vec3 a = row.Three("L1", "a1", "b1"), b = row.Three("L2", "a2", "b2");
    EXPECT_NEAR(Ciede2000(a, b), row["dE00"], 0.5e-4 + 1e-9) << "pair " << row.Text("pair");
    EXPECT_NEAR(Ciede2000(b, a), row["dE00"], 0.5e-4 + 1e-9) << "pair " << row.Text("pair") << " turned";
  }
}

TEST(Difference, SymmetricNeverNegativeAndZeroForEqual) {
  std::mt19937 random(1);
  std::uniform_real_distribution<double> l(0, 100), ab(-120, 120);
  for (int i = 0; i < 20000; ++i) {
    const Vec3 a{l(random), ab(random), ab(random)}, b{l(random), ab(random), ab(random)};
    const double d = Ciede2000(a, b);
    EXPECT_GE(d, 0);
    EXPECT_NEAR(d, Ciede2000(b, a), 1e-9);
    EXPECT_EQ(Ciede2000(a, a), 0);
  }
}

TEST(Difference, NaNGivesNaN) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const Vec3 fine{50, 10, -10};
  for (int c = 0; c < 3; ++c) {
    Vec3 broken = fine;
    broken[c] = nan;
    EXPECT_TRUE(std::isnan(Ciede2000(broken, fine))) << c;
    EXPECT_TRUE(std::isnan(Ciede2000(fine, broken))) << c;
  }
}

}  // namespace
}  // namespace samelight::color
