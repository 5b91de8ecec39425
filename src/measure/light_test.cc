#include "measure/light.h"

#include <gtest/gtest.h>

#include "color/temperature.h"
#include "measure/measure.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

image::PlaneU8 Nothing(const image::RgbF& p) {
  image::PlaneU8 plane(p.width(), p.height());
  std::fill(plane.data().begin(), plane.data().end(), std::uint8_t{0});
  return plane;
}

record::LightEstimate Estimate(const image::RgbF& p, const record::Photo& photo) {
  return EstimateLight(p, Nothing(p), Nothing(p), photo, {});
}

// Invented truth: the painted scene under gains that a warmer, colder, greener light would give.
struct Cast {
  double mired, green;
};

class CastTest : public testing::TestWithParam<Cast> {};

TEST_P(CastTest, IsFoundInAPaintedScene) {
  const Vec3 gains = Mul(color::WhiteShiftRec2020(GetParam().mired, GetParam().green), Vec3{1, 1, 1});
  const record::LightEstimate light = Estimate(WithGains(PaintedScene(900, 600, 4), gains), Jpeg());
  EXPECT_NEAR(light.neutral[0], gains[0] / gains[1], 0.03);
  EXPECT_NEAR(light.neutral[2], gains[2] / gains[1], 0.03);
  EXPECT_EQ(light.neutral[1], 1);
  EXPECT_GT(light.confidence, 0.3);
  const Vec3 xyz = Mul(color::XyzFromRgb(color::Space::kRec2020), gains);
  const color::CctDuv truth = color::CctDuvFromXy(color::XyFromXyz(xyz));
  EXPECT_NEAR(light.mired, color::MiredFromKelvin(truth.cct_k), 4);
  EXPECT_NEAR(light.duv, truth.duv, 0.002);
}

INSTANTIATE_TEST_SUITE_P(Lights, CastTest,
                         testing::Values(Cast{0, 0}, Cast{35, 0}, Cast{-35, 0}, Cast{0, 7}, Cast{0, -7},
                                         Cast{25, -4}));

TEST(Light, LevelIsThatOfTheMedian) {
  image::RgbF grey(300, 200);
  Fill(grey, 0, 0, 1, 1, {0.18, 0.18, 0.18}, 0);
  // Mid-grey: log2 0.18.
  EXPECT_NEAR(Estimate(grey, Jpeg()).log2_level, -2.474, 0.001);
  EXPECT_NEAR(Estimate(WithGains(grey, {4, 4, 4}), Jpeg()).log2_level, -0.474, 0.001);
}

TEST(Light, SaysThatItDoesNotKnow) {
  image::RgbF red(300, 200);
  Fill(red, 0, 0, 1, 1, Rec2020FromSrgb8(170, 30, 25), 0.1);
  const record::LightEstimate light = Estimate(red, Jpeg());
  EXPECT_LT(light.confidence, 0.05);
  EXPECT_NEAR(light.neutral[0], 1, 0.1);
  EXPECT_NEAR(light.neutral[2], 1, 0.1);
}

TEST(Light, APictureWithoutUsablePixelsGivesThePrior) {
  const image::RgbF p = PaintedScene(200, 100, 1);
  image::PlaneU8 all = Nothing(p);
  std::fill(all.data().begin(), all.data().end(), std::uint8_t{255});
  const record::LightEstimate light = EstimateLight(p, all, Nothing(p), Jpeg(), {});
  EXPECT_EQ(light.confidence, 0);
  EXPECT_EQ(light.neutral, (Vec3{1, 1, 1}));
  // D65: 6504 K (CIE 015:2018), 0.0032 above the Planckian locus.
  EXPECT_NEAR(light.mired, 153.75, 0.5);
  EXPECT_NEAR(light.duv, 0.0032, 0.0003);
  image::RgbF black(100, 100);
  std::fill(black.data().begin(), black.data().end(), 0.f);
  EXPECT_EQ(Estimate(black, Jpeg()).confidence, 0);
}

// A camera with an invented matrix sees a light of known chromaticity and balances it: the light must come
// back.
TEST(Light, OfARawFileIsThatOfTheScene) {
  const Mat3 camera_from_xyz{{{0.9, -0.2, -0.1}, {-0.4, 1.3, 0.1}, {-0.1, 0.2, 0.6}}};
  const auto neutral_of = [&](color::Xy white) {
    const Vec3 c = Mul(camera_from_xyz, color::XyzFromXy(white));
    return Vec3{c[1] / c[0], 1, c[1] / c[2]};
  };
  // CIE 015:2018: standard illuminant A (2856 K), D50, and one of the office lamps (FL2: x 0.3721, y 0.3751).
  for (const color::Xy white : {color::Xy{0.44758, 0.40745}, color::kD50, color::Xy{0.3721, 0.3751}}) {
    record::Photo photo;
    photo.encoding = record::Encoding::kRaw;
    photo.raw.daylight = neutral_of(color::kD65);
    photo.raw.as_shot = neutral_of(white);
    // D65-balanced camera values to linear BT.2020.
    const Mat3 rec2020_from_raw = Mul(color::RgbFromXyz(color::Space::kRec2020), Inverse(camera_from_xyz));
    Mat3 m = Mul(rec2020_from_raw, Diagonal({1 / photo.raw.daylight[0], 1, 1 / photo.raw.daylight[2]}));
    for (auto& row : m) {
      const double sum = row[0] + row[1] + row[2];
      for (double& v : row) v /= sum;
    }
    photo.raw.rec2020_from_camera = photo.raw.rec2020_from_daylight = m;
    // Well balanced: greys come out neutral.
    const record::LightEstimate light = Estimate(PaintedScene(600, 400, 9), photo);
    const color::CctDuv truth = color::CctDuvFromXy(white);
    EXPECT_NEAR(light.mired, color::MiredFromKelvin(truth.cct_k), 4) << white.x;
    EXPECT_NEAR(light.duv, truth.duv, 0.002) << white.x;
  }
}

// Real photographs have no truth, but what is done to them has: the estimate must move by just the gains
// wherever it claims to know.
TEST(Light, MovesWithTheGainsOfAPhotograph) {
  int seen = 0;
  for (const char* name :
       {"people/sample6.jpg", "people/sample2.jpg", "photos/astronaut.png", "photos/lake.png",
        "photos/picosdeeuropa_by_Aitzol_Berasategi.jpg", "photos/friends_by_Aitzol_Berasategi.jpg",
        "photos/life_by_Aitzol_Berasategi.jpg", "photos/aitzgorri_by_Aitzol_Berasategi.jpg"}) {
    const image::RgbF p = image::ShrinkTo(ReadAsset(name), 700);
    if (p.empty()) continue;
    ++seen;
    const record::LightEstimate before = Estimate(p, Jpeg());
    ASSERT_GT(before.confidence, 0.5) << name;
    for (const Cast& cast : {Cast{30, 0}, Cast{-30, 0}, Cast{0, 6}, Cast{0, -6}}) {
      const Vec3 gains = Mul(color::WhiteShiftRec2020(cast.mired, cast.green), Vec3{1, 1, 1});
      const record::LightEstimate after = Estimate(WithGains(p, gains), Jpeg());
      EXPECT_NEAR(after.neutral[0] / before.neutral[0], gains[0] / gains[1], 0.03)
          << name << " " << cast.mired;
      EXPECT_NEAR(after.neutral[2] / before.neutral[2], gains[2] / gains[1], 0.05)
          << name << " " << cast.mired;
    }
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
}

}  // namespace
}  // namespace samelight::measure
