// Views and their links (geometry; synthetic truth for the alignment).
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "preview/align.h"
#include "preview/sample.h"
#include "preview/testing.h"
#include "preview/view.h"

namespace samelight::preview {
namespace {

TEST(View, FitShowsTheWholePicture) {
  const View fit = FitView(6000, 4000, 900, 500);
  EXPECT_DOUBLE_EQ(fit.zoom, 0.125);
  const Point corner = OutputFromPicture(fit, 900, 500, {0, 0}),
              other = OutputFromPicture(fit, 900, 500, {6000, 4000});
  EXPECT_DOUBLE_EQ(corner.x, 75);
  EXPECT_DOUBLE_EQ(corner.y, 0);
  EXPECT_DOUBLE_EQ(other.x, 825);
  EXPECT_DOUBLE_EQ(other.y, 500);
}

TEST(View, ThereAndBackForAnyTurn) {
  for (const bool mirrored : {false, true})
    for (const double angle : {0.0, 30.0, -90.0, 180.0}) {
      const View view{{1000, 700}, 0.7, angle, mirrored};
      const Point out = OutputFromPicture(view, 800, 600, {1234, 345});
      const Point back = PictureFromOutput(view, 800, 600, out);
      EXPECT_NEAR(back.x, 1234, 1e-9);
      EXPECT_NEAR(back.y, 345, 1e-9);
    }
  // Clockwise: what lies to the right of the centre comes below it.
  const Point turned = OutputFromPicture({{0, 0}, 1, 90, false}, 100, 100, {10, 0});
  EXPECT_NEAR(turned.x, 50, 1e-9);
  EXPECT_NEAR(turned.y, 60, 1e-9);
}

TEST(View, PixelsFallOnPixelsAtAWholeZoom) {
  for (const double zoom : {1.0, 2.0, 3.0})
    for (const int width : {300, 301}) {
      View view;
      view.centre = {411.37, 208.91};
      view.zoom = zoom;
      const View on = OnPixels(view, width, 200);
      const Point corner = PictureFromOutput(on, width, 200, {0, 0});
      EXPECT_NEAR(corner.x * zoom, std::round(corner.x * zoom), 1e-9);
      EXPECT_NEAR(corner.y * zoom, std::round(corner.y * zoom), 1e-9);
      EXPECT_LE(std::abs(on.centre.x - view.centre.x) * zoom, 0.5 + 1e-9);
      EXPECT_LE(std::abs(on.centre.y - view.centre.y) * zoom, 0.5 + 1e-9);
    }
  View other;
  other.centre = {10.3, 7.7};
  other.zoom = 0.73;
  EXPECT_EQ(OnPixels(other, 301, 200).centre.x, other.centre.x);
  other.zoom = 1;
  other.angle_deg = 2;
  EXPECT_EQ(OnPixels(other, 301, 200).centre.x, other.centre.x);
}

TEST(View, ZoomKeepsWhatIsUnderThePointerAndPanMoves) {
  const View view{{1000, 700}, 0.5, 20, false};
  const Point under = PictureFromOutput(view, 800, 600, {100, 500});
  const View closer = Zoomed(view, 800, 600, {100, 500}, 3);
  const Point still = OutputFromPicture(closer, 800, 600, under);
  EXPECT_NEAR(still.x, 100, 1e-9);
  EXPECT_NEAR(still.y, 500, 1e-9);
  EXPECT_DOUBLE_EQ(closer.zoom, 1.5);
  const View moved = Panned(view, 30, -10);
  const Point p = OutputFromPicture(view, 800, 600, {900, 650}),
              q = OutputFromPicture(moved, 800, 600, {900, 650});
  EXPECT_NEAR(q.x - p.x, 30, 1e-9);
  EXPECT_NEAR(q.y - p.y, -10, 1e-9);
}

class AlignTest : public testing::TestWithParam<bool> {};

TEST_P(AlignTest, FindsTheSimilarityAmongWrongMatches) {
  const bool mirrored = GetParam();
  const Similarity truth{1.6, 7, {mirrored ? 2900.0 : 150.0, -60}, mirrored};
  const int aw = 1800, ah = 1200, bw = 3000, bh = 2000;
  std::mt19937 random(3);
  std::uniform_real_distribution<double> u(0, 1);
  std::normal_distribution<double> noise(0, 4);
  record::Correspondence matched;
  matched.mirrored = mirrored;
  for (int i = 0; i < 200; ++i) {
    record::Cell cell;
    const Point a{u(random) * aw, u(random) * ah};
    Point b = Map(truth, a);
    // People who moved, and plain mistakes: a third of all.
    if (i % 3 == 0) b = {u(random) * bw, u(random) * bh};
    cell.ax = static_cast<float>(a.x / aw);
    cell.ay = static_cast<float>(a.y / ah);
    cell.bx = static_cast<float>((b.x + noise(random)) / bw);
    cell.by = static_cast<float>((b.y + noise(random)) / bh);
    matched.cells.push_back(cell);
  }
  const auto found = FitSimilarity(matched, aw, ah, bw, bh);
  ASSERT_TRUE(found.has_value());
  for (const Point a : {Point{0, 0}, {1800, 0}, {900, 600}, {0, 1200}}) {
    const Point want = Map(truth, a), got = Map(*found, a);
    EXPECT_NEAR(got.x, want.x, 6);
    EXPECT_NEAR(got.y, want.y, 6);
    const Point back = Map(Inverse(*found), got);
    EXPECT_NEAR(back.x, a.x, 1e-6);
    EXPECT_NEAR(back.y, a.y, 1e-6);
  }
  // A linked view shows the same thing at the same place of the output.
  for (const bool seen_mirrored : {false, true}) {
    const View view{{700, 500}, 0.4, 12, seen_mirrored};
    const View linked = Linked(*found, view);
    for (const Point a : {Point{300, 300}, {1200, 900}}) {
      const Point one = OutputFromPicture(view, 800, 600, a),
                  two = OutputFromPicture(linked, 800, 600, Map(*found, a));
      EXPECT_NEAR(one.x, two.x, 1e-6);
      EXPECT_NEAR(one.y, two.y, 1e-6);
    }
  }
}
INSTANTIATE_TEST_SUITE_P(Both, AlignTest, testing::Bool());

TEST(Align, NoFitWithoutAgreement) {
  record::Correspondence matched;
  EXPECT_FALSE(FitSimilarity(matched, 100, 100, 100, 100).has_value());
  matched.cells.resize(5);
  EXPECT_FALSE(FitSimilarity(matched, 100, 100, 100, 100).has_value());
  matched.cells.resize(50);  // all at one place: no scale can be told
  EXPECT_FALSE(FitSimilarity(matched, 100, 100, 100, 100).has_value());
}

TEST(Sample, AreasAreAveragedInLinearLight) {
  // A checkerboard of 0 and 1: any shrinking by 4 is 0.5 everywhere.
  image::RgbF board(400, 400);
  for (int y = 0; y < 400; ++y)
    for (int x = 0; x < 400; ++x)
      for (int c = 0; c < 3; ++c) board.at(x, y)[c] = static_cast<float>((x + y) % 2);
  Sampled out;
  Sample(board, 400, FitView(400, 400, 100, 100), 100, 100, out);
  for (const float v : out.linear.data()) ASSERT_NEAR(v, 0.5, 0.01);
  for (const std::uint8_t inside : out.inside) ASSERT_EQ(inside, 1);
}

TEST(Sample, PixelsStayWhereTheyAreAtOneToOne) {
  const image::RgbF scene = SomeScene(64, 48);
  Sampled out;
  Sample(scene, 64, {{32, 24}, 1, 0, false}, 64, 48, out);
  for (std::size_t i = 0; i < scene.data().size(); ++i)
    ASSERT_NEAR(out.linear.data()[i], scene.data()[i], 1e-6);
  // Twice as large: squares.
  Sample(scene, 64, {{16, 12}, 2, 0, false}, 64, 48, out);
  for (int y = 0; y < 48; ++y)
    for (int x = 0; x < 64; ++x)
      ASSERT_EQ(out.linear.at(x, y)[1], scene.at(x / 2, y / 2)[1]) << x << "," << y;
}

TEST(Sample, OutsideIsTold) {
  const image::RgbF scene = SomeScene(64, 48);
  Sampled out;
  Sample(scene, 64, {{0, 0}, 1, 0, false}, 64, 48, out);
  EXPECT_EQ(out.inside[0], 0);
  EXPECT_EQ(out.linear.at(0, 0)[0], 0);
  EXPECT_EQ(out.inside[47 * 64 + 63], 1);
  Sample({}, 64, {{0, 0}, 1, 0, false}, 64, 48, out);
  EXPECT_EQ(out.inside[47 * 64 + 63], 0);
}

}  // namespace
}  // namespace samelight::preview
