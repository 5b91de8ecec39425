// Where a cut lies: by the words of record/order.h.
#include "window/model/framing.h"

#include <gtest/gtest.h>

namespace samelight::window {
namespace {

void ExpectCorners(const record::Framing& framing, const std::array<QPointF, 4>& wanted) {
  const std::array<QPointF, 4> corners = CutOf(framing, 3000, 2000);
  for (int i = 0; i < 4; ++i) {
    EXPECT_NEAR(corners[i].x(), wanted[i].x(), 1e-9) << i;
    EXPECT_NEAR(corners[i].y(), wanted[i].y(), 1e-9) << i;
  }
}

TEST(FramingTest, ACutLiesWhereItsFractionsSay) {
  record::Framing framing;
  ExpectCorners(framing, {QPointF(0, 0), QPointF(1, 0), QPointF(1, 1), QPointF(0, 1)});
  framing.crop.left = 0.1;
  framing.crop.bottom = 0.75;
  ExpectCorners(framing, {QPointF(0.1, 0), QPointF(1, 0), QPointF(1, 0.75), QPointF(0.1, 0.75)});
}

TEST(FramingTest, FractionsAreThoseOfTheTurnedPicture) {
  record::Framing framing;
  framing.quarter_turns = 1;  // its upper edge is what was the left one, from below
  framing.crop.bottom = 0.5;
  ExpectCorners(framing, {QPointF(0, 1), QPointF(0, 0), QPointF(0.5, 0), QPointF(0.5, 1)});
  framing.quarter_turns = 3;
  ExpectCorners(framing, {QPointF(1, 0), QPointF(1, 1), QPointF(0.5, 1), QPointF(0.5, 0)});
}

TEST(FramingTest, StraighteningStaysInsideThePicture) {
  for (const double angle : {-45.0, -7.0, 3.0, 30.0}) {
    record::Framing framing;
    framing.crop.angle_deg = angle;
    bool touches = false;
    for (const QPointF& corner : CutOf(framing, 3000, 2000)) {
      EXPECT_GE(std::min(corner.x(), corner.y()), -1e-9);
      EXPECT_LE(std::max(corner.x(), corner.y()), 1 + 1e-9);
      touches |= corner.y() < 1e-9 || corner.y() > 1 - 1e-9;
    }
    EXPECT_TRUE(touches) << "no smaller than it must be";
  }
}

}  // namespace
}  // namespace samelight::window
