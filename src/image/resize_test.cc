#include "image/resize.h"

#include <gtest/gtest.h>

#include <cmath>

#include "color/space.h"

namespace samelight::image {
namespace {

// Values without a pattern that a filter could favour.
float Value(int x, int y, int c) {
  return 0.5f + 0.5f * static_cast<float>(std::sin(12.9898 * x + 78.233 * y + 37.719 * c));
}

RgbF Picture(int w, int h) {
  RgbF p(w, h);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x)
      for (int c = 0; c < 3; ++c) p.at(x, y)[c] = Value(x, y, c);
  return p;
}

// Mean of the source over the exact footprint of a target pixel, with fractions of pixels at its rim.
double AreaMean(const RgbF& in, int out_w, int out_h, int ox, int oy, int c) {
  const double sx = static_cast<double>(in.width()) / out_w, sy = static_cast<double>(in.height()) / out_h;
  const double x0 = ox * sx, x1 = x0 + sx, y0 = oy * sy, y1 = y0 + sy;
  double sum = 0;
  for (int y = static_cast<int>(y0); y < std::min(static_cast<int>(std::ceil(y1)), in.height()); ++y)
    for (int x = static_cast<int>(x0); x < std::min(static_cast<int>(std::ceil(x1)), in.width()); ++x) {
      const double wx = std::min<double>(x + 1, x1) - std::max<double>(x, x0);
      const double wy = std::min<double>(y + 1, y1) - std::max<double>(y, y0);
      sum += wx * wy * in.at(x, y)[c];
    }
  return sum / (sx * sy);
}

TEST(ShrinkTo, IsTheExactAreaMean) {
  for (const auto& [w, h, side] :
       {std::array{64, 48, 32}, {300, 200, 100}, {257, 131, 90}, {131, 257, 40}, {1000, 3, 77}}) {
    const RgbF in = Picture(w, h), out = ShrinkTo(in, side);
    EXPECT_EQ(std::max(out.width(), out.height()), side);
    for (int y = 0; y < out.height(); ++y)
      for (int x = 0; x < out.width(); ++x)
        for (int c = 0; c < 3; ++c)
          ASSERT_NEAR(out.at(x, y)[c], AreaMean(in, out.width(), out.height(), x, y, c), 2e-5)
              << w << "x" << h << " at " << x << " " << y;
  }
}

TEST(ShrinkTo, KeepsProportionAndNeverEnlarges) {
  EXPECT_EQ(ShrinkTo(Picture(300, 200), 150).height(), 100);
  EXPECT_EQ(ShrinkTo(Picture(200, 300), 150).width(), 100);
  EXPECT_EQ(ShrinkTo(Picture(2000, 1), 100).height(), 1);
  const RgbF small = Picture(50, 30);
  EXPECT_EQ(ShrinkTo(small, 100).data(), small.data());
  EXPECT_EQ(ShrinkTo(small, 50).data(), small.data());
  EXPECT_EQ(ShrinkTo(PlaneF(400, 100), 200).height(), 50);
}

TEST(ShrinkTo, NaNSpreadsToWhatItTouchesOnly) {
  RgbF in = Picture(80, 60);
  in.at(41, 31)[1] = std::nanf("");
  const RgbF out = ShrinkTo(in, 20);
  for (int y = 0; y < out.height(); ++y)
    for (int x = 0; x < out.width(); ++x)
      for (int c = 0; c < 3; ++c)
        EXPECT_EQ(std::isnan(out.at(x, y)[c]), x == 10 && y == 7 && c == 1) << x << " " << y << " " << c;
}

TEST(ResizeTo, GivesTheSizeAskedFor) {
  for (const auto& [w, h] : {std::pair{17, 9}, {64, 64}, {200, 33}, {1, 1}}) {
    const RgbF out = ResizeTo(Picture(64, 48), w, h);
    EXPECT_EQ(out.width(), w);
    EXPECT_EQ(out.height(), h);
  }
  // Enlarging keeps a constant constant, to the border.
  RgbF flat(20, 10);
  std::fill(flat.data().begin(), flat.data().end(), 0.3f);
  const RgbF large = ResizeTo(flat, 61, 37);
  for (const float v : large.data()) EXPECT_NEAR(v, 0.3, 1e-6);
}

TEST(Blur, KeepsMeansAndConstantsAtTheBorder) {
  RgbF flat(40, 30);
  std::fill(flat.data().begin(), flat.data().end(), 0.7f);
  const RgbF blurred = Blur(flat, 4);
  for (const float v : blurred.data()) EXPECT_NEAR(v, 0.7, 1e-6);
  // A point becomes a Gaussian: its standard deviation is that asked for.
  PlaneF point(101, 101);
  std::fill(point.data().begin(), point.data().end(), 0.f);
  *point.at(50, 50) = 1;
  for (const double sigma : {0.8, 2.0, 5.0}) {
    const PlaneF spread = Blur(point, sigma);
    double sum = 0, square = 0;
    for (int y = 0; y < 101; ++y)
      for (int x = 0; x < 101; ++x) {
        sum += *spread.at(x, y);
        square += (x - 50) * (x - 50) * *spread.at(x, y);
      }
    EXPECT_NEAR(sum, 1, 1e-5);
    EXPECT_NEAR(std::sqrt(square), sigma, 0.06 * sigma);
  }
}

TEST(Luminance, IsTheYRowOfTheSpacesMatrix) {
  // ITU-R BT.2020-2 Table 4 rounds it to four digits.
  const Mat3 xyz_from_rgb = color::XyzFromRgb(color::Space::kRec2020);
  RgbF p(3, 1);
  p.data() = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  const PlaneF y = Luminance(p);
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(y.data()[c], xyz_from_rgb[1][c], 5e-5);
}

}  // namespace
}  // namespace samelight::image
