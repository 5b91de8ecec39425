#include "measure/clipping.h"

#include <gtest/gtest.h>

#include "measure/testing.h"

namespace samelight::measure {
namespace {

TEST(Clipping, OneFullChannelOfTheFilesSpaceIsEnough) {
  image::RgbF p = PaintedScene(640, 480, 1);
  Fill(p, 0.1, 0.1, 0.2, 0.2, Rec2020FromSrgb8(255, 190, 120), 0);  // warm lamp: only red is full
  Fill(p, 0.4, 0.1, 0.5, 0.2, Rec2020FromSrgb8(250, 190, 120), 0);  // just below
  const Clipping c = FindClipping(p, Jpeg(), 640, 480);
  EXPECT_EQ(*c.high.at(96, 72), 255);
  EXPECT_EQ(*c.high.at(288, 72), 0);
  EXPECT_NEAR(c.fraction_high, 0.01, 1e-4);
}

TEST(Clipping, SurvivesShrinking) {
  image::RgbF p = PaintedScene(2000, 1500, 1);
  // Fine glitter: one pixel in sixteen is burnt; its mean is far from white.
  for (int y = 300; y < 500; y += 4)
    for (int x = 300; x < 500; x += 4)
      for (int c = 0; c < 3; ++c) p.at(x, y)[c] = 1;
  const Clipping c = FindClipping(p, Jpeg(), 500, 375);
  EXPECT_EQ(*c.high.at(100, 100), 255);
  EXPECT_EQ(*c.high.at(200, 100), 0);
}

TEST(Clipping, AWideFileIsNotClippedBySrgb) {
  // A saturated green that only a wide space holds, at 0.5: more than sRGB can show, far from the end of its
  // own space.
  image::RgbF p(200, 200);
  Fill(p, 0, 0, 1, 1, {0.05, 0.9, 0.05}, 0);
  EXPECT_EQ(FindClipping(p, Jpeg(), 200, 200).fraction_high, 0);
  Fill(p, 0, 0, 1, 0.5, {0.05, 1.0, 0.05}, 0);
  EXPECT_NEAR(FindClipping(p, Jpeg(), 200, 200).fraction_high, 0.5, 1e-6);
}

TEST(Clipping, RawEndsAtTheWhiteLevelOfEachChannel) {
  record::Photo photo;
  photo.encoding = record::Encoding::kRaw;
  photo.raw.as_shot = {2.0, 1, 1.5};
  image::RgbF p(100, 100);
  Fill(p, 0, 0, 1, 1, {0.3, 0.3, 0.3}, 0);
  Fill(p, 0, 0, 0.5, 0.5, {1.2, 0.9, 0.8}, 0);  // red at 0.6 of its white level
  Fill(p, 0.5, 0, 1, 0.5, {0.9, 1.0, 0.9}, 0);  // green full
  Fill(p, 0, 0.5, 0.5, 1, {0, 0, 0}, 0);
  const Clipping c = FindClipping(p, photo, 100, 100);
  EXPECT_EQ(*c.high.at(20, 20), 0);
  EXPECT_EQ(*c.high.at(70, 20), 255);
  EXPECT_NEAR(c.fraction_high, 0.25, 1e-9);
  EXPECT_NEAR(c.fraction_low, 0.25, 1e-9);
}

}  // namespace
}  // namespace samelight::measure
