#include "simulate/curve.h"

#include <gtest/gtest.h>

#include <cmath>

namespace samelight::simulate {
namespace {

// Data of Fritsch, Carlson 1980, Table 1 (RPN 14), a steep monotone set that ordinary splines overshoot.
const std::vector<double> kX{7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20};
const std::vector<double> kY{0,        2.76429e-5, 4.37498e-2, 0.169183, 0.469428,
                             0.943740, 0.998636,   0.999919,   0.999994};

TEST(Curve, PassesThroughItsPointsAndStaysMonotone) {
  const Curve curve(kX, kY);
  for (std::size_t i = 0; i < kX.size(); ++i) EXPECT_NEAR(curve(kX[i]), kY[i], 1e-12);
  double last = curve(7.9);
  for (double x = 7.9; x < 21; x += 0.001) {
    const double y = curve(x);
    ASSERT_GE(y, last - 1e-12) << x;
    ASSERT_LE(y, 1.0);
    last = y;
  }
}

TEST(Curve, HoldsItsEndsAndSurvivesNan) {
  const Curve curve(kX, kY);
  EXPECT_EQ(curve(-100), kY.front());
  EXPECT_EQ(curve(100), kY.back());
  EXPECT_EQ(curve(std::nan("")), kY.front());
}

TEST(Curve, FastOneFollows) {
  const Curve curve(kX, kY);
  const FastCurve fast(curve, 7.99, 20, 4096);
  for (double x = 7.5; x < 21; x += 0.0137) EXPECT_NEAR(fast(static_cast<float>(x)), curve(x), 2e-3) << x;
  EXPECT_EQ(fast(std::nanf("")), 0.0f);
}

}  // namespace
}  // namespace samelight::simulate
