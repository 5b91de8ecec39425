#include "simulate/studio.h"

#include <gtest/gtest.h>

namespace samelight::simulate {
namespace {

// A frame and its smaller truth must show one part of the scene: Inside() may jump where an aspect differs.
TEST(Studio, OneAspectAtAnySize) {
  for (int long_side : {1500, 800, 401, 160}) {
    const Size level = SizeFor(1.5, long_side, false), upright = SizeFor(1.5, long_side, true);
    EXPECT_EQ(level.aspect, 1.5) << long_side;
    EXPECT_EQ(upright.aspect, 1 / 1.5) << long_side;
    EXPECT_NEAR(static_cast<double>(level.width_px) / level.height_px, level.aspect, 0.01);
    EXPECT_NEAR(static_cast<double>(upright.width_px) / upright.height_px, upright.aspect, 0.01);
  }
}

}  // namespace
}  // namespace samelight::simulate
