// Lens correction against the formulas that the lens database's documentation states for its models (Lensfun
// 0.3 manual, "Structures and functions for lenses": distortion "ptlens" and "poly3", vignetting "pa"). The
// lens is taken from the installed database.
#include "codec/lens.h"

#include <gtest/gtest.h>

#include <cmath>

#include "codec/lens_testing.h"

namespace samelight::codec {
namespace {

using testing::AnyKnownLens;

constexpr int kWidth = 600, kHeight = 400;

// In place, as stored.
bool Corrected(const record::Capture& capture, image::RgbF& picture) {
  image::RgbF out;
  const bool corrected = CorrectLens(capture, picture, 1, out);
  picture = std::move(out);
  return corrected;
}

image::RgbF Places() {  // every pixel holds its own place
  image::RgbF places(kWidth, kHeight);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      places.at(x, y)[0] = static_cast<float>(x);
      places.at(x, y)[1] = static_cast<float>(y);
      places.at(x, y)[2] = 0;
    }
  return places;
}

TEST(Lens, VignettingFollowsItsFormula) {
  auto found = AnyKnownLens();
  ASSERT_TRUE(found.has_value()) << "the lens database is not installed";
  image::RgbF flat(kWidth, kHeight);
  for (float& v : flat.data()) v = 0.25f;
  ASSERT_TRUE(Corrected(found->capture, flat));
  found->capture.aperture.reset();  // without it, only places are corrected
  image::RgbF places = Places();
  ASSERT_TRUE(Corrected(found->capture, places));
  // C_corrected = C / (1 + k1 r^2 + k2 r^4 + k3 r^6), r = 1 at the corner, at the place where light fell on
  // the sensor.
  const float* k = found->vignetting.Terms;
  const double cx = (kWidth - 1) / 2.0, cy = (kHeight - 1) / 2.0;
  double most = 0;
  for (const auto& [x, y] : {std::pair{300, 200}, {400, 200}, {320, 350}, {100, 60}, {20, 20}, {590, 390}}) {
    const double r2 =
        (std::pow(places.at(x, y)[0] - cx, 2) + std::pow(places.at(x, y)[1] - cy, 2)) / (cx * cx + cy * cy);
    const double gain = 1 / (1 + r2 * (double(k[0]) + r2 * (double(k[1]) + r2 * double(k[2]))));
    EXPECT_NEAR(flat.at(x, y)[1] / 0.25, gain, 0.02 * gain) << x << ", " << y;
    most = std::max(most, gain);
  }
  EXPECT_GT(most, 1.05) << "this lens has no vignetting to correct";
}

TEST(Lens, DistortionFollowsItsFormula) {
  auto found = AnyKnownLens();
  ASSERT_TRUE(found.has_value());
  found->capture.aperture.reset();  // no vignetting without it
  image::RgbF places = Places();
  ASSERT_TRUE(Corrected(found->capture, places));
  // r_d = r_u (a r_u^3 + b r_u^2 + c r_u + 1 - a - b - c), r in halves of the short side; the whole is scaled
  // so that no border is left empty, by a factor that is found at one point and must hold at all others.
  const double a = found->distortion.Terms[0], b = found->distortion.Terms[1], c = found->distortion.Terms[2];
  const double half = kHeight / 2.0, cx = (kWidth - 1) / 2.0, cy = (kHeight - 1) / 2.0;
  const auto model = [&](double r) { return r * (((a * r + b) * r + c) * r + 1 - a - b - c); };
  const auto distorted = [&](int x, int y) {
    return std::hypot(places.at(x, y)[0] - cx, places.at(x, y)[1] - cy) / half;
  };
  const auto plain = [&](int x, int y) { return std::hypot(x - cx, y - cy) / half; };
  double scale = 1, error = 1e9;
  for (double s = 0.7; s < 1.3; s += 0.0005) {
    const double e = std::abs(model(plain(500, 300) * s) - distorted(500, 300));
    if (e < error) {
      error = e;
      scale = s;
    }
  }
  double bent = 0;
  for (const auto& [x, y] : {std::pair{350, 210}, {420, 200}, {300, 330}, {150, 90}, {80, 60}, {530, 40}}) {
    EXPECT_NEAR(distorted(x, y), model(plain(x, y) * scale), 0.004) << x << ", " << y;
    bent = std::max(bent, std::abs(model(plain(x, y) * scale) - plain(x, y) * scale * model(0.3) / 0.3));
    // Places move along the line through the middle.
    EXPECT_NEAR((places.at(x, y)[0] - cx) * (y - cy), (places.at(x, y)[1] - cy) * (x - cx),
                half * half * 0.01);
  }
  EXPECT_GT(bent, 0.004) << "this lens has no distortion to correct";
}

// Whatever is done to a picture, it is turned as it would be without; 6 is a quarter clockwise.
TEST(Lens, TurnsOnTheWay) {
  const auto found = AnyKnownLens();
  ASSERT_TRUE(found.has_value());
  for (const record::Capture& capture : {found->capture, record::Capture()}) {
    const image::RgbF places = Places();
    image::RgbF stored, upright;
    EXPECT_EQ(CorrectLens(capture, places, 1, stored), CorrectLens(capture, places, 6, upright));
    ASSERT_EQ(upright.width(), kHeight);
    ASSERT_EQ(upright.height(), kWidth);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x)
        for (int c = 0; c < 3; ++c)
          ASSERT_EQ(upright.at(kHeight - 1 - y, x)[c], stored.at(x, y)[c]) << x << ", " << y;
  }
}

TEST(Lens, UnknownLensesAreLeftAlone) {
  image::RgbF flat(60, 40);
  for (float& v : flat.data()) v = 0.25f;
  record::Capture capture;
  EXPECT_FALSE(Corrected(capture, flat));
  capture.make = "Invented";
  capture.body = "Body A";
  capture.lens = "Invented 35/2";
  capture.focal_mm = 35;
  EXPECT_FALSE(Corrected(capture, flat));
  // A known body with a lens that the database does not hold.
  auto found = AnyKnownLens();
  ASSERT_TRUE(found.has_value());
  found->capture.lens = "Invented 35/2";
  EXPECT_FALSE(Corrected(found->capture, flat));
  for (const float v : flat.data()) EXPECT_EQ(v, 0.25f);
  // A successor is another lens; a maker's name more or less, and other spacing, are the same one.
  found = AnyKnownLens();
  std::string name = found->capture.lens;
  found->capture.lens = name + " XIV";
  EXPECT_FALSE(Corrected(found->capture, flat));
  const std::string maker = found->lens_maker + " ";
  name = name.rfind(maker, 0) == 0 ? name.substr(maker.size()) : maker + name;
  found->capture.lens = name;
  EXPECT_TRUE(Corrected(found->capture, flat)) << name;
  for (std::size_t at = 0; (at = name.find("mm f/", at)) != std::string::npos;) name.replace(at, 5, " mm F");
  found->capture.lens = name;
  EXPECT_TRUE(Corrected(found->capture, flat)) << name;
}

}  // namespace
}  // namespace samelight::codec
