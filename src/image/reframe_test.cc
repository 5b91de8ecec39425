#include "image/reframe.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace samelight::image {
namespace {

// Each pixel tells its place.
RgbF Places(int width, int height) {
  RgbF p(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      p.at(x, y)[0] = static_cast<float>(x);
      p.at(x, y)[1] = static_cast<float>(y);
      p.at(x, y)[2] = 1;
    }
  return p;
}

TEST(ReframeTest, TurnsGoClockwise) {
  const RgbF in = Places(5, 3);
  // The first pixel of the stored top row goes to the top right corner, then the bottom right, then the
  // bottom left.
  RgbF out = Reframe(in, {1});
  ASSERT_EQ(out.width(), 3);
  ASSERT_EQ(out.height(), 5);
  EXPECT_EQ(out.at(2, 0)[0], 0);
  EXPECT_EQ(out.at(2, 0)[1], 0);
  EXPECT_EQ(out.at(0, 0)[1], 2);
  EXPECT_EQ(out.at(2, 4)[0], 4);
  out = Reframe(in, {2});
  EXPECT_EQ(out.at(4, 2)[0], 0);
  EXPECT_EQ(out.at(4, 2)[1], 0);
  out = Reframe(in, {3});
  EXPECT_EQ(out.at(0, 4)[0], 0);
  EXPECT_EQ(out.at(0, 4)[1], 0);
  RgbF four = in;
  for (int i = 0; i < 4; ++i) four = Reframe(four, {1});
  EXPECT_EQ(four.data(), in.data());
}

TEST(ReframeTest, CutsMovePixelsUnchanged) {
  const RgbF in = Places(100, 50);
  EXPECT_EQ(Reframe(in, {}).data(), in.data());
  const RgbF out = Reframe(in, {0, 0.25, 0.1, 0.75, 0.9});
  ASSERT_EQ(out.width(), 50);
  ASSERT_EQ(out.height(), 40);
  EXPECT_EQ(out.at(0, 0)[0], 25);
  EXPECT_EQ(out.at(0, 0)[1], 5);
  EXPECT_EQ(out.at(49, 39)[0], 74);
  const RgbF tiny = Reframe(in, {0, 0.999, 0.999, 1, 1});
  EXPECT_EQ(tiny.pixels(), 1u);
}

TEST(ReframeTest, StraighteningTurnsTheContentClockwise) {
  const RgbF in = Places(400, 300);
  const double angle = 10, a = angle * std::numbers::pi / 180;
  const Cut cut{0, 0.25, 0.25, 0.75, 0.75, angle};
  const RgbF out = Reframe(in, cut);
  ASSERT_EQ(out.width(), 200);
  ASSERT_EQ(out.height(), 150);
  double worst = 0;
  for (int y = 0; y < out.height(); y += 7)
    for (int x = 0; x < out.width(); x += 7) {
      const double dx = x - 99.5, dy = y - 74.5;
      // A point of the content at (u, v) from the middle, y downwards, goes to (u cos - v sin, u sin + v cos)
      // when it turns clockwise; this is the way back.
      worst = std::max(worst, std::abs(out.at(x, y)[0] - (199.5 + std::cos(a) * dx + std::sin(a) * dy)));
      worst = std::max(worst, std::abs(out.at(x, y)[1] - (149.5 - std::sin(a) * dx + std::cos(a) * dy)));
    }
  EXPECT_LT(worst, 1e-3);
}

TEST(ReframeTest, NothingOutsideThePictureIsShown) {
  for (const double angle : {-45.0, -7.0, 0.5, 20.0, 45.0})
    for (const int turns : {0, 1}) {
      const Cut cut{turns, 0, 0, 1, 1, angle};
      const RgbF out = Reframe(Places(300, 200), cut);
      const CutSize size = SizeOf(cut, 300, 200);
      EXPECT_EQ(out.width(), size.width_px);
      EXPECT_EQ(out.height(), size.height_px);
      EXPECT_NEAR(1.0 * out.width() / out.height(), turns ? 2.0 / 3 : 1.5, 0.02) << "it keeps its shape";
      // Neighbours show places one pixel apart, up to the corners (where the
      // filter reaches out by a pixel); outside they would repeat the border.
      for (const int y : {0, out.height() - 1})
        for (const int x : {0, out.width() - 2}) {
          const float *a = out.at(x, y), *b = out.at(x + 1, y);
          EXPECT_NEAR(std::hypot(b[0] - a[0], b[1] - a[1]), 1, 0.12) << x << " " << y;
        }
    }
}

TEST(ReframeTest, StopsWhenAsked) {
  const Cancel cancel;
  cancel.Request();
  for (const Cut& cut : {Cut{0, 0, 0, 1, 1, 3}, Cut{1, 0, 0, 1, 1, 0}}) {
    const RgbF out = Reframe(Places(60, 40), cut, cancel);
    EXPECT_EQ(out.width(), SizeOf(cut, 60, 40).width_px);
    for (const float v : out.data()) ASSERT_EQ(v, 0) << "work went on";
  }
}

}  // namespace
}  // namespace samelight::image
