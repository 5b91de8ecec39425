#include "base/matrix.h"

#include <gtest/gtest.h>

namespace samelight {
namespace {

// Hilbert matrix of order 3: its inverse is known in whole numbers (Choi, "Tricks or Treats with the Hilbert
// Matrix", 1983), determinant 1/2160.
TEST(Matrix, InverseOfTheHilbertMatrix) {
  const Mat3 hilbert{{{1, 1. / 2, 1. / 3}, {1. / 2, 1. / 3, 1. / 4}, {1. / 3, 1. / 4, 1. / 5}}};
  const Mat3 inverse{{{9, -36, 30}, {-36, 192, -180}, {30, -180, 180}}};
  EXPECT_NEAR(Determinant(hilbert), 1. / 2160, 1e-17);
  const Mat3 got = Inverse(hilbert);
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) EXPECT_NEAR(got[i][j], inverse[i][j], 1e-10) << i << j;
}

// Not symmetric, so that rows and columns cannot be mixed up.
TEST(Matrix, ProductsAreRowsTimesColumns) {
  const Mat3 a{{{1, 2, 3}, {4, 5, 6}, {7, 8, 10}}};
  const Mat3 b{{{0, 1, 0}, {0, 0, 2}, {3, 0, 0}}};
  const Mat3 ab{{{9, 1, 4}, {18, 4, 10}, {30, 7, 16}}};
  EXPECT_EQ(Mul(a, b), ab);
  EXPECT_EQ(Mul(a, Vec3{1, 0, -1}), (Vec3{-2, -2, -3}));
  EXPECT_EQ(Mul(Diagonal({2, 3, 4}), Vec3{1, 1, 1}), (Vec3{2, 3, 4}));
  const Mat3 back = Mul(Mul(a, b), Inverse(b));
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) EXPECT_NEAR(back[i][j], a[i][j], 1e-12);
}

}  // namespace
}  // namespace samelight
