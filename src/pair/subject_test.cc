#include "pair/subject.h"

#include <gtest/gtest.h>

#include "measure/measure.h"
#include "pair/reframe_testing.h"
#include "pair/spectral_testing.h"

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
  EXPECT_TRUE(LooksNarrowBand(m, false));
  m.black_and_white = true;
  EXPECT_FALSE(LooksNarrowBand(m, false));
  m.black_and_white = false;
  m.regions[2] = Region(RegionKind::kWhiteCloth, 0.2, {0.8, 0.8, 0.7});
  EXPECT_FALSE(LooksNarrowBand(m, false)) << "white cloth is white: only the rest is coloured";
  m.regions = {Region(RegionKind::kFoliage, 0.8, {0.04, 0.1, 0.015}),
               Region(RegionKind::kSkin, 0.1, {0.5, 0.3, 0.2})};
  EXPECT_FALSE(LooksNarrowBand(m, false)) << "a forest with a face";
  m.regions = {Region(RegionKind::kOther, 0.9, {0.3, 0.12, 0.03})};
  for (int c = 0; c < 3; ++c) m.regions[0].quantiles[2][c] = std::pow(m.regions[0].quantiles[2][c], 0.3);
  EXPECT_FALSE(LooksNarrowBand(m, false)) << "candles after a white balance that fell short";
}

// Invented stage lamps on photographs of people: each channel of an ordinary picture times what the lamp
// gives it.
TEST(Subject, StageLampsOnPhotographs) {
  const auto files = testing::PicturesIn(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "people");
  if (files.empty()) GTEST_SKIP() << "the people photographs were not fetched";
  int told = 0, mistaken = 0, pictures = 0;
  for (const auto& file : files) {
    const image::RgbF scene = image::ShrinkTo(testing::Photograph(file), 400);
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
      const bool narrow = LooksNarrowBand(measured->measured, false);
      if (lamp == Vec3{1, 1, 1})
        mistaken += narrow;
      else
        told += narrow;
    }
  }
  EXPECT_EQ(mistaken, 0);
  EXPECT_GE(told, 3 * pictures * 7 / 10) << "of " << 3 * pictures;
}

// The scene as a raw file, each place a patch.
bool ToldInRaw(const simulate::Lighting& light, std::uint64_t seed) {
  const testing::SpectralScene scene = testing::MakeScene(seed, light);
  record::Photo photo;
  photo.encoding = record::Encoding::kRaw;
  const image::RgbF places =
      testing::RawOf(simulate::MakeCamera(static_cast<int>(seed % 4), seed), scene, light, seed, &photo.raw);
  constexpr int kAcross = 16, kPatch = 12;
  image::RgbF picture(kAcross * kPatch, static_cast<int>(places.pixels()) / kAcross * kPatch);
  for (int y = 0; y < picture.height(); ++y)
    for (int x = 0; x < picture.width(); ++x)
      std::copy_n(places.at(y / kPatch * kAcross + x / kPatch, 0), 3, picture.at(x, y));
  const auto measured = measure::MeasurePicture(picture, photo, nullptr);
  EXPECT_TRUE(measured.ok());
  return measured.ok() && LooksNarrowBand(measured->measured, true);
}

// Lamps of narrow bands mixed into bulbs, more and more: coloured ones are told from half on, white ones
// mixed of three bands never. Invented lamps, measured cameras and surfaces.
TEST(Subject, HowMuchOfALampMustBeNarrowBandsToBeTold) {
  constexpr int kSeeds = 8;
  const Vec3 lamps[] = {{1, 0, 1}, {0.15, 0, 1}, {0, 1, 0.1}, {0.9, 0.8, 0.8}};
  const char* names[] = {"magenta", "blue", "green", "white of three bands"};
  for (int lamp = 0; lamp < 4; ++lamp) {
    std::printf("  %-22s", names[lamp]);
    for (const double share : {0.0, 0.25, 0.5, 0.75, 1.0}) {
      int told = 0;
      for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
        simulate::Lighting light = simulate::MakeLighting(simulate::LightKind::kBulbs, seed + 900, false);
        const color::Spectrum bands = simulate::NarrowBands(lamps[lamp][0], lamps[lamp][1], lamps[lamp][2]);
        for (color::Spectrum* s : {&light.key, &light.fill})
          for (std::size_t k = 0; k < s->size(); ++k) (*s)[k] = (1 - share) * (*s)[k] + share * bands[k];
        told += ToldInRaw(light, seed);
      }
      std::printf("  %3.0f %%: %d of %d", 100 * share, told, kSeeds);
      if (share == 0 || lamp == 3) EXPECT_EQ(told, 0) << names[lamp] << " " << share;
      if (share == 1 && lamp < 3) EXPECT_GE(told, kSeeds - 1) << names[lamp];
    }
    std::printf("\n");
  }
}

TEST(Subject, NoLightOfADayIsTakenForColouredLamps) {
  for (const simulate::LightKind kind :
       {simulate::LightKind::kWindow, simulate::LightKind::kNoonSun, simulate::LightKind::kOpenShade,
        simulate::LightKind::kUnderTrees, simulate::LightKind::kEveningSun, simulate::LightKind::kBlueHour,
        simulate::LightKind::kBulbs, simulate::LightKind::kCandles, simulate::LightKind::kOvercast})
    for (std::uint64_t seed = 1; seed <= 4; ++seed)
      EXPECT_FALSE(ToldInRaw(simulate::MakeLighting(kind, seed + 700, seed % 2 == 0), seed + 40))
          << static_cast<int>(kind) << " " << seed;
}

}  // namespace
}  // namespace samelight::pair
