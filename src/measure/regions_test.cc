#include "measure/regions.h"

#include <gtest/gtest.h>

#include <map>

#include "color/temperature.h"
#include "measure/measure.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

using record::RegionKind;

// Share of the pixels of a box (fractions) that has each label.
std::map<RegionKind, double> Shares(const image::PlaneU8& labels, double left, double top, double right,
                                    double bottom) {
  std::map<RegionKind, double> shares;
  double n = 0;
  for (int y = static_cast<int>(top * labels.height()); y < static_cast<int>(bottom * labels.height()); ++y)
    for (int x = static_cast<int>(left * labels.width()); x < static_cast<int>(right * labels.width());
         ++x, ++n)
      ++shares[static_cast<RegionKind>(*labels.at(x, y))];
  for (auto& [kind, share] : shares) share /= n;
  return shares;
}

image::PlaneU8 LabelsOf(const image::RgbF& p) {
  Result<MeasuredPicture> m = MeasurePicture(p, Jpeg(), nullptr);
  EXPECT_TRUE(m.ok());
  return m->analysis.labels;
}

struct View {
  const char* name;
  double mired, green;
  bool film;
};
void PrintTo(const View& v, std::ostream* out) { *out << v.name; }

class PaintedRegions : public testing::TestWithParam<View> {};

TEST_P(PaintedRegions, AreFoundUnderCastsAndFilm) {
  const View& v = GetParam();
  image::RgbF p = WithGains(PaintedScene(1024, 683, 3),
                            Mul(color::WhiteShiftRec2020(v.mired, v.green), Vec3{0.8, 0.8, 0.8}));
  if (v.film) p = WithFilmCurve(p);
  const image::PlaneU8 labels = LabelsOf(p);
  EXPECT_GT(Shares(labels, 0, 0, 1, 0.33)[RegionKind::kSky], 0.9);
  EXPECT_GT(Shares(labels, 0, 0.9, 1, 1)[RegionKind::kFoliage], 0.9);
  EXPECT_GT(Shares(labels, 0.12, 0.53, 0.28, 0.82)[RegionKind::kWhiteCloth], 0.9);
  EXPECT_GT(Shares(labels, 0.56, 0.53, 0.69, 0.82)[RegionKind::kNeutral], 0.8);
  EXPECT_GT(Shares(labels, 0.41, 0.53, 0.49, 0.82)[RegionKind::kShadow], 0.8);
  // The red door is none of these.
  auto door = Shares(labels, 0.75, 0.5, 0.9, 0.85);
  for (const RegionKind kind : {RegionKind::kSkin, RegionKind::kFoliage, RegionKind::kSky,
                                RegionKind::kWhiteCloth, RegionKind::kNeutral})
    EXPECT_LT(door[kind], 0.02) << record::Name(kind);
  // And nothing spills over into the others' places.
  EXPECT_LT(Shares(labels, 0, 0, 1, 0.34)[RegionKind::kFoliage], 0.01);
  EXPECT_LT(Shares(labels, 0, 0.36, 1, 1)[RegionKind::kSky], 0.01);
}

INSTANTIATE_TEST_SUITE_P(Casts, PaintedRegions,
                         testing::Values(View{"plain", 0, 0, false}, View{"warm", 40, 0, false},
                                         View{"cold", -40, 0, false}, View{"green", 0, 7, false},
                                         View{"magenta", 0, -7, false}, View{"film", 0, 0, true},
                                         View{"warm_film", 30, 3, true}),
                         [](const auto& tested) { return tested.param.name; });

// Labels that a person gave to places of photographs, and kinds that must not be there at all.
struct Patch {
  const char* photograph;
  RegionKind kind;
  double left, top, right, bottom, least;
};

TEST(Regions, OfPhotographsAgreeWithTheEye) {
  const Patch patches[] = {
      {"photos/aitzgorri_by_Aitzol_Berasategi.jpg", RegionKind::kFoliage, 0, 0.75, 1, 1, 0.85},
      {"photos/picosdeeuropa_by_Aitzol_Berasategi.jpg", RegionKind::kSky, 0.55, 0.0, 0.95, 0.1, 0.6},
      {"photos/Bridge_by_Sander_Klootwijk.jpg", RegionKind::kSky, 0.1, 0.02, 0.3, 0.15, 0.9},
      {"photos/tulips.png", RegionKind::kFoliage, 0.05, 0.8, 0.6, 0.98, 0.9},
      {"photos/life_by_Aitzol_Berasategi.jpg", RegionKind::kFoliage, 0.6, 0.0, 0.9, 0.15, 0.3},
      {"photos/flower.png", RegionKind::kFoliage, 0.45, 0.85, 0.6, 0.97, 0.5},
      {"photos/friends_by_Aitzol_Berasategi.jpg", RegionKind::kWhiteCloth, 0.6, 0.12, 0.95, 0.4, 0.8},
      {"photos/free_by_Peter_Nerlich.jpg", RegionKind::kNeutral, 0.1, 0.5, 0.4, 0.65, 0.9},
  };
  int seen = 0;
  std::map<std::string, image::PlaneU8> labels;
  for (const Patch& p : patches) {
    if (!labels.contains(p.photograph)) {
      const image::RgbF picture = image::ShrinkTo(ReadAsset(p.photograph), kAnalysisLongSide);
      labels[p.photograph] = picture.empty() ? image::PlaneU8() : LabelsOf(picture);
    }
    if (labels[p.photograph].empty()) continue;
    ++seen;
    EXPECT_GT(Shares(labels[p.photograph], p.left, p.top, p.right, p.bottom)[p.kind], p.least)
        << p.photograph << " " << record::Name(p.kind);
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
}

TEST(Regions, WhatIsNotInAPhotographIsNotFound) {
  const std::pair<const char*, RegionKind> absent[] = {
      {"people/sample1.jpg", RegionKind::kSky},
      {"people/sample2.jpg", RegionKind::kSky},
      {"people/sample3.jpg", RegionKind::kSky},
      {"people/sample4.jpg", RegionKind::kSky},  // a violet wall
      {"people/sample5.jpg", RegionKind::kSky},
      {"people/sample6.jpg", RegionKind::kSky},
      {"people/sample4.jpg", RegionKind::kFoliage},
      {"people/sample5.jpg", RegionKind::kFoliage},
      {"photos/astronaut.png", RegionKind::kSky},
      {"photos/coffee.png", RegionKind::kFoliage},
      {"photos/coffee.png", RegionKind::kSky},
      {"photos/chelsea.png", RegionKind::kFoliage},
      {"photos/Wine_by_Jakkub_Mede.jpg", RegionKind::kSky},
      {"photos/Wine_by_Jakkub_Mede.jpg", RegionKind::kFoliage},
      {"photos/room_hlg.png", RegionKind::kSky},
      {"photos/tulips.png", RegionKind::kSky},
      {"photos/aitzgorri_by_Aitzol_Berasategi.jpg", RegionKind::kSkin},
  };
  int seen = 0;
  for (const auto& [name, kind] : absent) {
    const image::RgbF picture = image::ShrinkTo(ReadAsset(name), kAnalysisLongSide);
    if (picture.empty()) continue;
    ++seen;
    EXPECT_LT(Shares(LabelsOf(picture), 0, 0, 1, 1)[kind], 0.005) << name << " " << record::Name(kind);
  }
  if (seen == 0) GTEST_SKIP() << "no photographs; run scripts/fetch-assets";
}

TEST(Regions, DarkClothIsBelowAFaceAndGreenOnABodyIsNoFoliage) {
  image::RgbF p(1024, 683);
  Fill(p, 0, 0, 1, 1, Rec2020FromSrgb8(150, 140, 128), 0.05);
  const record::Face face{0.45, 0.15, 0.55, 0.30, 0.9};
  Fill(p, 0.38, 0.4, 0.62, 0.7, Rec2020FromSrgb8(24, 24, 28), 0.1);     // jacket
  Fill(p, 0.43, 0.05, 0.57, 0.13, Rec2020FromSrgb8(24, 22, 20), 0.1);   // hair
  Fill(p, 0.4, 0.75, 0.6, 0.95, Rec2020FromSrgb8(70, 110, 60), 0.1);    // green skirt
  Fill(p, 0.05, 0.75, 0.25, 0.95, Rec2020FromSrgb8(70, 110, 60), 0.1);  // bush
  Skin skin;
  image::PlaneU8 none(1024, 683);
  std::fill(none.data().begin(), none.data().end(), std::uint8_t{0});
  skin.faces = skin.alike = none;
  const image::PlaneU8 labels = LabelRegions(p, {}, {}, false, none, skin, {face});
  EXPECT_GT(Shares(labels, 0.39, 0.42, 0.61, 0.68)[RegionKind::kDarkCloth], 0.9);
  EXPECT_EQ(Shares(labels, 0.43, 0.05, 0.57, 0.13)[RegionKind::kDarkCloth], 0);
  EXPECT_LT(Shares(labels, 0.4, 0.75, 0.6, 0.95)[RegionKind::kFoliage], 0.01);
  EXPECT_GT(Shares(labels, 0.06, 0.77, 0.24, 0.93)[RegionKind::kFoliage], 0.9);
  // Without a face there is no cloth to be told from shadow.
  const image::PlaneU8 alone = LabelRegions(p, {}, {}, false, none, skin, {});
  EXPECT_EQ(Shares(alone, 0, 0, 1, 1)[RegionKind::kDarkCloth], 0);
}

TEST(Regions, AnUncertainNeutralLabelsLess) {
  const image::RgbF p = PaintedScene(1024, 683, 3);
  Skin skin;
  image::PlaneU8 none(1024, 683);
  std::fill(none.data().begin(), none.data().end(), std::uint8_t{0});
  skin.faces = skin.alike = none;
  const auto greys = [&](const Vec3& other) {
    return Shares(LabelRegions(p, {}, ToneNeutral::Constant(other), false, none, skin, {}), 0.56, 0.53, 0.69,
                  0.82)[RegionKind::kNeutral];
  };
  EXPECT_GT(greys({1, 1, 1}), 0.9);
  EXPECT_EQ(greys({1.3, 1, 0.7}), 0);
}

}  // namespace
}  // namespace samelight::measure
