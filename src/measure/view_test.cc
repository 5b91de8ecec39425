#include "measure/view.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "color/lab.h"
#include "measure/measure.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

TEST(SceneCurve, KeepsMidGreyAndItsSlope) {
  EXPECT_NEAR(SceneCurve(0.18f), 0.18, 1e-4);
  const double slope = std::log(SceneCurve(0.18f * 1.05f) / SceneCurve(0.18f / 1.05f)) / (2 * std::log(1.05));
  EXPECT_NEAR(slope, 1.23, 0.01);
  EXPECT_EQ(SceneCurve(0), 0);
  EXPECT_EQ(SceneCurve(-1), 0);
  EXPECT_EQ(SceneCurve(std::nanf("")), 0);
  EXPECT_EQ(SceneCurve(std::numeric_limits<float>::infinity()), 1);
  // Against the formula: x^1.5 / (x^1.5 + 0.18^0.5 * 0.82).
  for (double x = 2e-5; x < 200; x *= 1.07) {
    const double p = std::pow(x, 1.5);
    EXPECT_NEAR(SceneCurve(static_cast<float>(x)), p / (p + std::sqrt(0.18) * 0.82), 1e-5) << x;
  }
  float before = 0;
  for (float x = 1e-6f; x < 1000; x *= 1.01f) {
    const float y = SceneCurve(x);
    EXPECT_GE(y, before);
    EXPECT_LE(y, 1);
    before = y;
  }
}

TEST(SceneGain, BringsAnyExposureToOneLevel) {
  const image::RgbF p = PaintedScene(300, 200, 1);
  const double gain = SceneGain(p);
  for (const double k : {0.05, 0.5, 3.0}) EXPECT_NEAR(SceneGain(WithGains(p, {k, k, k})) * k / gain, 1, 1e-4);
  image::RgbF black(50, 50);
  std::fill(black.data().begin(), black.data().end(), 0.f);
  EXPECT_EQ(SceneGain(black), 1);
}

TEST(LabView, IsCielabOfTheBalancedPicture) {
  const image::RgbF p = PaintedScene(120, 80, 1);
  const Vec3 neutral{1.2, 1, 0.7};
  const image::RgbF lab = LabView(WithGains(p, neutral), ToneNeutral::Constant(neutral), false);
  for (int y = 0; y < 80; y += 7)
    for (int x = 0; x < 120; x += 7) {
      const float* v = p.at(x, y);
      const Vec3 expected = color::LabFromRec2020({v[0], v[1], v[2]});
      // The library's white and cube roots differ from the reference by a few hundredths.
      for (int c = 0; c < 3; ++c) EXPECT_NEAR(lab.at(x, y)[c], expected[c], 0.15) << x << " " << y;
    }
}

TEST(NeutralRendering, EncodesDisplayReferredPicturesExactly) {
  image::RgbF p(256, 3);
  for (int v = 0; v < 256; ++v) {
    const Vec3 colours[3] = {Rec2020FromSrgb8(v, v, v), Rec2020FromSrgb8(v, 255 - v, 40),
                             Rec2020FromSrgb8(0, v, 255)};
    for (int y = 0; y < 3; ++y)
      for (int c = 0; c < 3; ++c) p.at(v, y)[c] = static_cast<float>(colours[y][c]);
  }
  const image::RgbU8 out = NeutralRendering(p, false);
  for (int v = 0; v < 256; ++v) {
    const int codes[3][3] = {{v, v, v}, {v, 255 - v, 40}, {0, v, 255}};
    for (int y = 0; y < 3; ++y)
      for (int c = 0; c < 3; ++c) EXPECT_NEAR(out.at(v, y)[c], codes[y][c], 1) << v << " " << y << " " << c;
  }
}

TEST(NeutralRendering, SceneReferredPicturesComeOutAlikeAtAnyExposure) {
  const image::RgbF p = PaintedScene(200, 150, 2);
  const image::RgbU8 a = NeutralRendering(p, true), b = NeutralRendering(WithGains(p, {0.1, 0.1, 0.1}), true);
  int most = 0;
  for (std::size_t i = 0; i < a.data().size(); ++i)
    most = std::max(most, std::abs(a.data()[i] - b.data()[i]));
  EXPECT_LE(most, 1);
}

TEST(NeutralRendering, TakesWhatIsNoNumber) {
  image::RgbF p(4, 1);
  p.data() = {std::nanf(""), 0, 0, -1, -1, -1, 9, 9, 9, std::numeric_limits<float>::infinity(), 1, 1};
  for (const bool scene : {false, true}) {
    const image::RgbU8 out = NeutralRendering(p, scene);
    EXPECT_EQ(out.at(1, 0)[1], 0);
    EXPECT_GE(out.at(2, 0)[1], 240);
  }
}

}  // namespace
}  // namespace samelight::measure
