#include "measure/quality.h"

#include <gtest/gtest.h>

#include <cmath>

#include "measure/testing.h"
#include "measure/view.h"

namespace samelight::measure {
namespace {

image::PlaneU8 Nothing(int w, int h) {
  image::PlaneU8 plane(w, h);
  std::fill(plane.data().begin(), plane.data().end(), std::uint8_t{0});
  return plane;
}

image::RgbF Lab(const image::RgbF& p) { return LabView(p, ToneNeutral(), false); }

TEST(Sharpness, FallsWithBlurHoldsWithExposureContrastAndNoise) {
  image::RgbF p(1600, 1066);
  Fill(p, 0, 0, 1, 1, {0.1, 0.1, 0.1}, 0);
  for (int i = 0; i < 40; ++i)
    Fill(p, 0.02 + i * 0.024, 0.1 + 0.01 * (i % 7), 0.03 + i * 0.024, 0.9, {0.5, 0.5, 0.5}, 0);
  p = image::Blur(p, 0.6);
  const double sharp = Sharpness(image::Luminance(p));
  EXPECT_NEAR(Sharpness(image::Luminance(WithGains(p, {0.3, 0.3, 0.3}))) / sharp, 1, 0.01);
  double before = sharp;
  for (const double sigma : {1.0, 2.0, 4.0}) {
    const image::RgbF blurred = image::Blur(p, sigma);
    const double soft = Sharpness(image::Luminance(blurred));
    EXPECT_LT(soft, 0.7 * before) << sigma;
    before = soft;
    // Noise of the sensor is no sharpness.
    image::RgbF noisy = blurred;
    for (int y = 0; y < p.height(); ++y)
      for (int x = 0; x < p.width(); ++x)
        for (int c = 0; c < 3; ++c)
          noisy.at(x, y)[c] += 0.004f * std::sqrt(blurred.at(x, y)[c]) * (Noise(x, y, 1) + Noise(x, y, 2));
    EXPECT_LE(Sharpness(image::Luminance(noisy)), 1.15 * soft) << sigma;
  }
}

TEST(Sharpness, OfNothingIsZero) {
  image::RgbF flat(300, 300);
  Fill(flat, 0, 0, 1, 1, {0.2, 0.2, 0.2}, 0);
  EXPECT_EQ(Sharpness(image::Luminance(flat)), 0);
  EXPECT_EQ(Sharpness(image::PlaneF(5, 5)), 0);
}

TEST(Sharpness, TellsSharpPhotographsFromBlurredOnes) {
  int seen = 0;
  for (const char* name :
       {"people/sample1.jpg", "people/sample4.jpg", "photos/flower.png",
        "photos/friends_by_Aitzol_Berasategi.jpg", "photos/sunset_by_Aitzol_Berasategi.jpg"}) {
    const image::RgbF p = ReadAsset(name);
    if (p.empty()) continue;
    ++seen;
    const image::PlaneF y = image::Luminance(p);
    EXPECT_GT(Sharpness(y), 5) << name;
    EXPECT_LT(Sharpness(image::Blur(y, 3)), 1.6) << name;
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
}

// Invented truth: Gaussian-like noise of known RMS in density over the whole picture; half of it is a smooth
// ramp, the rest has texture of its own.
TEST(Grain, IsTheRmsOfDensity) {
  for (const double rms : {0.004, 0.012, 0.03}) {
    image::RgbF p(1024, 683);
    for (int y = 0; y < 683; ++y)
      for (int x = 0; x < 1024; ++x) {
        // Sum of 6 uniform values of variance 1/3 each.
        double noise = 0;
        for (int k = 0; k < 6; ++k) noise += Noise(x, y, 40 + k);
        const double factor = std::pow(10, noise / std::sqrt(2.0) * rms);
        const double ramp = 0.2 * std::pow(10, 0.2 * x / 1024);
        const double texture = 0.2 + 0.08 * std::sin(x * 0.9) * std::sin(y * 0.7);
        for (int c = 0; c < 3; ++c) p.at(x, y)[c] = static_cast<float>((y < 340 ? ramp : texture) * factor);
      }
    EXPECT_NEAR(Grain(p, Nothing(1024, 683)) / rms, 1, 0.12) << rms;
  }
}

TEST(BlackAndWhite, GreyAndTonedYesColourNo) {
  image::RgbF colour = PaintedScene(600, 400, 1), grey = colour, toned = colour;
  for (std::size_t i = 0; i < colour.pixels(); ++i) {
    const float* p = colour.data().data() + 3 * i;
    const float y = 0.2627f * p[0] + 0.6780f * p[1] + 0.0593f * p[2];
    for (int c = 0; c < 3; ++c) {
      grey.data()[3 * i + c] = y;
      // A warm tone, stronger in the shadows.
      toned.data()[3 * i + c] = y * (c == 0 ? 1 : c == 1 ? 0.88f : 0.62f + 0.2f * y);
    }
  }
  EXPECT_TRUE(IsBlackAndWhite(Lab(grey)));
  EXPECT_TRUE(IsBlackAndWhite(Lab(toned)));
  EXPECT_FALSE(IsBlackAndWhite(Lab(colour)));
}

TEST(BlackAndWhite, PhotographsInColourAreNot) {
  int seen = 0;
  for (const char* name :
       {"people/sample1.jpg", "people/sample3.jpg", "people/sample5.jpg", "photos/astronaut.png",
        "photos/free_by_Peter_Nerlich.jpg", "photos/lake.png", "photos/room_hlg.png",
        "photos/greentock_by_Peter_Nerlich.jpg", "photos/friends_by_Aitzol_Berasategi.jpg"}) {
    const image::RgbF p = image::ShrinkTo(ReadAsset(name), 512);
    if (p.empty()) continue;
    ++seen;
    EXPECT_FALSE(IsBlackAndWhite(Lab(p))) << name;
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
}

TEST(Blank, IsNamed) {
  image::RgbF p(200, 200);
  Fill(p, 0, 0, 1, 1, {0.001, 0.001, 0.001}, 0.5);
  EXPECT_EQ(BlankNote(Lab(p), 0), "black: nothing was exposed");
  Fill(p, 0, 0, 1, 1, {0.99, 0.99, 0.99}, 0.005);
  EXPECT_EQ(BlankNote(Lab(p), 0.95), "white: burnt out");
  Fill(p, 0, 0, 1, 1, {0.1, 0.1, 0.1}, 0.02);
  EXPECT_EQ(BlankNote(Lab(p), 0), "blank: one dark tone");
  EXPECT_EQ(BlankNote(Lab(PaintedScene(200, 200, 1)), 0), "");
}

}  // namespace
}  // namespace samelight::measure
