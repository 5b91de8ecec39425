#include "measure/border.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstring>

#include "measure/testing.h"

namespace samelight::measure {
namespace {

// Where a pixel of the scan lies in the photograph (px), turned by `degrees` about the middle of the scan.
struct Frame {
  double cx, cy, half_w, half_h, degrees, corner_px;
  bool Inside(double x, double y) const {
    const double a = degrees / 57.29578, dx = x - cx, dy = y - cy;
    const double u = std::abs(std::cos(a) * dx + std::sin(a) * dy),
                 v = std::abs(-std::sin(a) * dx + std::cos(a) * dy);
    if (u > half_w || v > half_h) return false;
    const double cu = u - (half_w - corner_px), cv = v - (half_h - corner_px);
    return cu <= 0 || cv <= 0 || std::hypot(cu, cv) <= corner_px;
  }
};

// A scan with rebate of `rebate` around a photograph, and the holder of `holder` 20 px outside of it when
// `nested`.
image::RgbF Bordered(const image::RgbF& photograph, const Frame& frame, float rebate, float holder,
                     bool nested) {
  image::RgbF scan = photograph;
  const Frame outer{frame.cx, frame.cy, frame.half_w + 16, frame.half_h + 16, frame.degrees, 0};
  for (int y = 0; y < scan.height(); ++y)
    for (int x = 0; x < scan.width(); ++x) {
      // Edges are one pixel soft, as a scanner's are.
      float in = 0, at_holder = 0;
      for (const double dx : {-0.33, 0.0, 0.33})
        for (const double dy : {-0.33, 0.0, 0.33}) {
          in += frame.Inside(x + dx, y + dy) ? 1.f / 9 : 0;
          at_holder += nested && !outer.Inside(x + dx, y + dy) ? 1.f / 9 : 0;
        }
      for (int c = 0; c < 3; ++c) {
        const float edge = (rebate + 0.002f * Noise(x, y, 11 + c)) * (1 - at_holder) + holder * at_holder;
        scan.at(x, y)[c] = scan.at(x, y)[c] * in + std::max(0.f, edge) * (1 - in);
      }
    }
  return scan;
}

struct Case {
  const char* name;
  double degrees, corner_px, margin;
  float rebate, holder;
  bool nested;
};

void PrintTo(const Case& c, std::ostream* out) { *out << c.name; }

class BorderTest : public testing::TestWithParam<Case> {};

TEST_P(BorderTest, MasksWhatIsOutsideAndLittleElse) {
  const Case& c = GetParam();
  const image::RgbF photograph = PaintedScene(1024, 768, 2);
  const Frame frame{512, 384, 512 - c.margin, 384 - c.margin, c.degrees, c.corner_px};
  const Border border = FindBorder(Bordered(photograph, frame, c.rebate, c.holder, c.nested));
  int outside = 0, missed = 0, inside = 0, lost = 0;
  for (int y = 0; y < 768; ++y)
    for (int x = 0; x < 1024; ++x) {
      const bool masked = *border.outside.at(x, y) != 0;
      if (frame.Inside(x, y)) {
        ++inside;
        lost += masked;
      } else {
        ++outside;
        missed += !masked;
      }
    }
  EXPECT_LE(missed, outside / 200) << "of " << outside;
  EXPECT_LE(lost, inside / 40) << "of " << inside;
  // The upright rectangle inside holds photograph only.
  for (const double fx : {border.left, border.right})
    for (const double fy : {border.top, border.bottom})
      EXPECT_TRUE(frame.corner_px > 0 || frame.Inside(fx * 1023, fy * 767)) << fx << " " << fy;
  EXPECT_LT(border.left, 0.1);
  EXPECT_GT(border.right, 0.9);
}

INSTANTIATE_TEST_SUITE_P(Scans, BorderTest,
                         testing::Values(Case{"black", 0, 0, 24, 0.004f, 0, false},
                                         Case{"black_turned", 0.9, 0, 30, 0.004f, 0, false},
                                         Case{"black_turned_back", -1.4, 0, 36, 0.004f, 0, false},
                                         Case{"black_rounded", 0.4, 28, 26, 0.004f, 0, false},
                                         Case{"white", 0, 0, 20, 0.97f, 0, false},
                                         Case{"white_turned", 0.7, 0, 26, 0.97f, 0, false},
                                         Case{"white_around_black", 0.3, 0, 40, 0.004f, 0.98f, true}),
                         [](const testing::TestParamInfo<Case>& tested) { return tested.param.name; });

TEST(Border, OneSideOnly) {
  image::RgbF scan = PaintedScene(1024, 768, 2);
  Fill(scan, 0, 0, 0.03, 1, {0.003, 0.003, 0.003}, 0.2);
  const Border border = FindBorder(scan);
  EXPECT_EQ(*border.outside.at(3, 300), 255);
  EXPECT_EQ(*border.outside.at(60, 300), 0);
  EXPECT_NEAR(border.left, 0.03, 0.006);
  EXPECT_EQ(border.right, 1);
  EXPECT_EQ(border.top, 0);
  EXPECT_EQ(border.bottom, 1);
}

int Masked(const Border& border) {
  int n = 0;
  for (const std::uint8_t v : border.outside.data()) n += v != 0;
  return n;
}

TEST(Border, APhotographToTheEdgeStaysWhole) {
  const Border border = FindBorder(PaintedScene(1024, 768, 2));
  EXPECT_EQ(Masked(border), 0);
  EXPECT_EQ(border.left, 0);
  EXPECT_EQ(border.bottom, 1);
}

TEST(Border, DarkAndBrightEdgesOfThePhotographStay) {
  // A dark hill with a crooked outline along the bottom, a burnt sky with an uneven edge along the top.
  image::RgbF p = PaintedScene(1024, 768, 2);
  for (int x = 0; x < 1024; ++x) {
    const int hill = 60 + static_cast<int>(30 * std::sin(x / 70.0) + 12 * std::sin(x / 17.0));
    const int sky = 50 + static_cast<int>(25 * std::sin(x / 90.0 + 1) + 10 * std::sin(x / 23.0));
    for (int y = 0; y < 768; ++y)
      for (int c = 0; c < 3; ++c) {
        if (y > 767 - hill) p.at(x, y)[c] = 0.004f + 0.002f * Noise(x, y, 3);
        if (y < sky) p.at(x, y)[c] = 0.99f;
      }
  }
  EXPECT_EQ(Masked(FindBorder(p)), 0);
  // A night picture and a white one are no borders either.
  image::RgbF night(800, 600), white(800, 600);
  Fill(night, 0, 0, 1, 1, {0.003, 0.003, 0.003}, 0.5);
  Fill(white, 0, 0, 1, 1, {0.98, 0.98, 0.98}, 0.01);
  EXPECT_EQ(Masked(FindBorder(night)), 0);
  EXPECT_EQ(Masked(FindBorder(white)), 0);
}

TEST(Border, PhotographsWithoutBorderStayWhole) {
  int seen = 0;
  for (const char* name :
       {"people/sample1.jpg", "people/sample2.jpg", "people/sample4.jpg", "people/sample6.jpg",
        "photos/astronaut.png", "photos/flower.png", "photos/picosdeeuropa_by_Aitzol_Berasategi.jpg",
        "photos/life_by_Aitzol_Berasategi.jpg", "photos/seeding_by_Clements_Engelhardt.jpg",
        "photos/free_by_Peter_Nerlich.jpg", "photos/Bridge_by_Sander_Klootwijk.jpg",
        "photos/Wine_by_Jakkub_Mede.jpg"}) {
    const image::RgbF p = image::ShrinkTo(ReadAsset(name), 1024);
    if (p.empty()) continue;
    ++seen;
    EXPECT_EQ(Masked(FindBorder(p)), 0) << name;
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
}

TEST(Dust, SpecksInSmoothPlacesAreMaskedTextureIsNot) {
  image::RgbF scan = PaintedScene(1024, 768, 2);
  const int at[][2] = {{200, 100}, {500, 80}, {800, 200}, {690, 500}};  // sky and grey
  for (const auto& [x, y] : at)
    for (int dy = 0; dy < 3; ++dy)
      for (int dx = 0; dx < 2; ++dx)
        for (int c = 0; c < 3; ++c) scan.at(x + dx, y + dy)[c] = 0.95f;
  const image::PlaneU8 dust = FindDust(scan);
  for (const auto& [x, y] : at) EXPECT_EQ(*dust.at(x, y), 255) << x << " " << y;
  int masked = 0;
  for (const std::uint8_t v : dust.data()) masked += v != 0;
  EXPECT_LE(masked, 4 * 60);
}

TEST(Border, TinyPicturesAreLeftAlone) {
  EXPECT_EQ(Masked(FindBorder(PaintedScene(20, 31, 1))), 0);
  EXPECT_EQ(FindDust(PaintedScene(20, 31, 1)).width(), 20);
}

}  // namespace
}  // namespace samelight::measure
