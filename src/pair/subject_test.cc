#include "pair/subject.h"

#include <gtest/gtest.h>

#include "measure/measure.h"
#include "pair/reframe_testing.h"

namespace samelight::pair {
namespace {

using record::RegionKind;

record::RegionStat Region(RegionKind kind, double area, const Vec3& rgb) {
  record::RegionStat s;
  s.kind = kind;
  s.area = area;
  s.mean = rgb;
  for (std::size_t q = 0; q < s.quantiles.size(); ++q)
    for (int c = 0; c < 3; ++c) s.quantiles[q][c] = rgb[c] * (0.8 + 0.1 * static_cast<double>(q));
  return s;
}

TEST(Subject, SkinAgainstWhatLiesBehind) {
  record::Measured m;
  EXPECT_FALSE(BacklightOf(m));
  m.regions = {Region(RegionKind::kOther, 0.8, {0.2, 0.2, 0.2})};
  EXPECT_FALSE(BacklightOf(m)) << "no skin";
  m.regions.push_back(Region(RegionKind::kSkin, 0.05, {0.4, 0.4, 0.4}));
  const double front = *BacklightOf(m);
  EXPECT_NEAR(front, 1 - std::log2(1.1), 0.15);
  m.regions[0] = Region(RegionKind::kSky, 0.8, {1.6, 1.6, 1.6});  // three stops more behind the same skin
  EXPECT_NEAR(front - *BacklightOf(m), 3, 1e-9);
}

TEST(Subject, ColouredLampsAreToldFromDaylightAndForest) {
  record::Measured m;
  m.regions = {Region(RegionKind::kOther, 0.6, {0.05, 0.02, 0.3}),
               Region(RegionKind::kSkin, 0.1, {0.2, 0.05, 0.9}),
               Region(RegionKind::kWhiteCloth, 0.2, {0.3, 0.15, 1.5})};
  EXPECT_TRUE(LooksNarrowBand(m));
  m.black_and_white = true;
  EXPECT_FALSE(LooksNarrowBand(m));
  m.black_and_white = false;
  m.regions[2] = Region(RegionKind::kWhiteCloth, 0.2, {0.8, 0.8, 0.7});
  EXPECT_FALSE(LooksNarrowBand(m)) << "white cloth is white: only the rest is coloured";
  m.regions = {Region(RegionKind::kFoliage, 0.8, {0.04, 0.1, 0.015}),
               Region(RegionKind::kSkin, 0.1, {0.5, 0.3, 0.2})};
  EXPECT_FALSE(LooksNarrowBand(m)) << "a forest with a face";
  m.regions = {Region(RegionKind::kOther, 0.9, {0.3, 0.12, 0.03})};
  for (int c = 0; c < 3; ++c) m.regions[0].quantiles[2][c] = std::pow(m.regions[0].quantiles[2][c], 0.3);
  EXPECT_FALSE(LooksNarrowBand(m)) << "candles after a white balance that fell short";
}

// Invented stage lamps on photographs of people: each channel of an ordinary picture times what the lamp
// gives it.
TEST(Subject, StageLampsOnPhotographs) {
  const auto files = testing::PicturesIn(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "people");
  if (files.empty()) GTEST_SKIP() << "the people photographs were not fetched";
  int told = 0, mistaken = 0, pictures = 0;
  for (const auto& file : files) {
    const image::RgbF scene = testing::Photograph(file);
    if (scene.empty()) continue;
    ++pictures;
    for (const Vec3& lamp : {Vec3{1, 1, 1}, Vec3{1, 0.08, 0.5}, Vec3{0.15, 0.1, 1}, Vec3{1, 0.12, 0.05}}) {
      image::RgbF lit = scene;
      for (std::size_t i = 0; i < lit.pixels(); ++i)
        for (int c = 0; c < 3; ++c) lit.data()[3 * i + c] *= static_cast<float>(lamp[c]);
      record::Photo photo;
      photo.encoding = record::Encoding::kJpeg;
      const auto measured = measure::MeasurePicture(lit, photo, nullptr);
      ASSERT_TRUE(measured.ok());
      const bool narrow = LooksNarrowBand(measured->measured);
      if (lamp == Vec3{1, 1, 1})
        mistaken += narrow;
      else
        told += narrow;
    }
  }
  EXPECT_EQ(mistaken, 0);
  EXPECT_GE(told, 3 * pictures * 7 / 10) << "of " << 3 * pictures;
}

}  // namespace
}  // namespace samelight::pair
