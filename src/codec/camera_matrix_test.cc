// The colour of a camera that was calibrated under two lights. Cameras are invented; whites of CIE 015:2018.
#include "codec/camera_matrix.h"

#include <gtest/gtest.h>

#include <cmath>

#include "color/adapt.h"
#include "color/temperature.h"

namespace samelight::codec {
namespace {

constexpr color::Xy kA{0.44758, 0.40745};  // CIE 015:2018, table 3
const Mat3 kWarm{{{0.9, -0.2, -0.05}, {-0.5, 1.4, 0.15}, {-0.05, 0.3, 0.35}}};
const Mat3 kCold{{{0.8, -0.1, -0.08}, {-0.4, 1.3, 0.1}, {-0.1, 0.2, 0.6}}};

Vec3 AsShot(const Mat3& camera_from_xyz, color::Xy white) {
  const Vec3 n = Mul(camera_from_xyz, color::XyzFromXy(white));
  return {n[1] / n[0], 1, n[1] / n[2]};
}

record::RawColour Both(const Vec3& as_shot) {
  record::RawColour colour;
  EXPECT_TRUE(ColourFrom({{17, kWarm}, {21, kCold}}, as_shot, colour));
  return colour;
}

// Linear BT.2020 of a colour that is `xyz` under `white`, by the camera; and as it should be, adapted by
// Bradford.
Vec3 Seen(const record::RawColour& colour, const Mat3& camera_from_xyz, color::Xy white, const Vec3& xyz) {
  const Vec3 n = Mul(camera_from_xyz, color::XyzFromXy(white));
  Vec3 camera = Mul(camera_from_xyz, xyz);
  for (int c = 0; c < 3; ++c) camera[c] *= n[1] / n[c] / n[1];
  return Mul(colour.rec2020_from_camera, camera);
}
Vec3 Wanted(color::Xy white, const Vec3& xyz) {
  return Mul(color::RgbFromXyz(color::Space::kRec2020),
             Mul(color::Adaptation(color::XyzFromXy(white), color::XyzFromXy(color::kD65),
                                   color::AdaptMethod::kBradford),
                 xyz));
}

TEST(CameraMatrix, EachLightOfCalibrationHasItsOwn) {
  for (const auto& [matrix, white] : {std::pair(kWarm, kA), std::pair(kCold, color::kD65)}) {
    const record::RawColour colour = Both(AsShot(matrix, white));
    for (const Vec3& xyz : {Vec3{0.3, 0.2, 0.1}, Vec3{0.1, 0.2, 0.05}, Vec3{0.15, 0.1, 0.3}}) {
      const Vec3 seen = Seen(colour, matrix, white, xyz), wanted = Wanted(white, xyz);
      for (int c = 0; c < 3; ++c) EXPECT_NEAR(seen[c], wanted[c], 2e-3) << c;
    }
  }
}

TEST(CameraMatrix, BetweenTheTwoItGoesWithTheMired) {
  // DNG 1.4, chapter 6: linear in the inverse of the temperature.
  for (const double kelvin : {3400.0, 4000.0, 5000.0}) {
    const color::Xy white = color::PlanckianXy(kelvin);
    const double warm = color::MiredFromKelvin(color::CctDuvFromXy(kA).cct_k),
                 cold = color::MiredFromKelvin(color::CctDuvFromXy(color::kD65).cct_k);
    const double t = (color::MiredFromKelvin(kelvin) - cold) / (warm - cold);
    Mat3 mixed;
    for (int i = 0; i < 3; ++i)
      for (int j = 0; j < 3; ++j) mixed[i][j] = t * kWarm[i][j] + (1 - t) * kCold[i][j];
    const record::RawColour colour = Both(AsShot(mixed, white));
    const Vec3 xyz{0.3, 0.2, 0.06}, seen = Seen(colour, mixed, white, xyz), wanted = Wanted(white, xyz);
    // The line between the two whites stands for the locus: within a hundredth.
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(seen[c], wanted[c], 0.01) << kelvin << ' ' << c;
  }
}

TEST(CameraMatrix, BeyondTheWarmerLightItsMatrixHolds) {
  const record::RawColour a = Both(AsShot(kWarm, kA)), candle = Both(AsShot(kWarm, color::PlanckianXy(1900)));
  for (int r = 0; r < 3; ++r) {
    double sum = 0;
    for (int c = 0; c < 3; ++c) {
      EXPECT_NEAR(a.rec2020_from_camera[r][c], candle.rec2020_from_camera[r][c], 2e-3);
      sum += candle.rec2020_from_camera[r][c];
    }
    EXPECT_NEAR(sum, 1, 1e-9);
  }
}

TEST(CameraMatrix, DaylightMultipliersAreThoseOfDaylightInEveryLight) {
  const Vec3 d65 = AsShot(kCold, color::kD65);
  for (const Vec3& as_shot : {d65, AsShot(kWarm, kA)})
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(Both(as_shot).daylight[c], d65[c], 1e-9);
}

TEST(CameraMatrix, UnadaptedTellsALightAsItIs) {
  // A surface under standard light A, whose matrix is the camera's there: what CIE 015:2018 gives without any
  // adaptation, as bright as the camera's green of D65 has it.
  const record::RawColour colour = Both(AsShot(kWarm, kA));
  const double green = Mul(kCold, color::XyzFromXy(color::kD65))[1];
  const Vec3 xyz{0.3, 0.2, 0.06}, camera = Mul(kWarm, xyz);
  const Vec3 seen = Mul(colour.rec2020_unadapted, camera),
             wanted = Mul(color::RgbFromXyz(color::Space::kRec2020), xyz);
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(seen[c], green * wanted[c], 5e-3) << c;
}

TEST(CameraMatrix, OneCalibrationServesEveryLight) {
  record::RawColour one, again;
  ASSERT_TRUE(ColourFrom({{21, kCold}}, AsShot(kCold, color::kD65), one));
  ASSERT_TRUE(ColourFrom({{21, kCold}}, Vec3{1.1, 1, 3.5}, again));
  EXPECT_EQ(one.rec2020_from_camera, again.rec2020_from_camera);
  EXPECT_EQ(again.as_shot[2], 3.5);
  ASSERT_TRUE(ColourFrom({{21, kCold}}, std::nullopt, again));
  EXPECT_EQ(again.as_shot, again.daylight);
}

TEST(CameraMatrix, NothingUsableChangesNothing) {
  record::RawColour colour;
  colour.as_shot = {7, 1, 7};
  EXPECT_FALSE(ColourFrom({}, std::nullopt, colour));
  EXPECT_FALSE(
      ColourFrom({{21, Mat3{}}, {17, Mat3{{{NAN, 0, 0}, {0, 1, 0}, {0, 0, 1}}}}}, std::nullopt, colour));
  EXPECT_EQ(colour.as_shot[0], 7);
}

}  // namespace
}  // namespace samelight::codec
