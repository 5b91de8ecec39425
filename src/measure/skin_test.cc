#include "measure/skin.h"

#include <gtest/gtest.h>

#include <cmath>

#include "color/temperature.h"
#include "measure/measure.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

constexpr int kWidth = 900, kHeight = 700;

// Invented: a head with hair, eyes and mouth, a neck, a dress, one free arm, before a wall. Colours of skin
// are those of forearms measured under D65 (Cooksey, Allen, Tsai 2017), lightest, middle and darkest of the
// 100 subjects.
struct Person {
  Vec3 skin;
  Vec3 wall = Rec2020FromSrgb8(120, 125, 130);
};

bool InEllipse(int x, int y, double cx, double cy, double rx, double ry) {
  return std::pow((x - cx) / rx, 2) + std::pow((y - cy) / ry, 2) <= 1;
}

constexpr double kCx = 450, kCy = 200;
const record::Face kFace{(kCx - 60) / kWidth, (kCy - 55) / kHeight, (kCx + 60) / kWidth, (kCy + 65) / kHeight,
                         0.9};

// What is at a pixel: 0 wall, 1 skin, 2 hair, eyes, mouth, 3 dress.
int PartAt(int x, int y) {
  if (InEllipse(x, y, kCx - 25, kCy - 10, 12, 6) || InEllipse(x, y, kCx + 25, kCy - 10, 12, 6)) return 2;
  if (InEllipse(x, y, kCx, kCy + 38, 22, 8)) return 2;
  if (InEllipse(x, y, kCx, kCy, 62, 80)) return y < kCy - 45 ? 2 : 1;
  if (std::abs(x - kCx) < 30 && y > kCy && y < 320) return 1;
  if (InEllipse(x, y, kCx, kCy - 10, 78, 92)) return 2;
  if (InEllipse(x, y, kCx, 330, 90, 40)) return 1;
  if (x > 530 && x < 570 && y > 320 && y < 560) return 1;
  if (std::abs(x - kCx) < 90 && y >= 330) return 3;
  return 0;
}

image::RgbF Paint(const Person& person) {
  image::RgbF p(kWidth, kHeight);
  const Vec3 colours[4] = {person.wall, person.skin, Rec2020FromSrgb8(40, 28, 22),
                           Rec2020FromSrgb8(225, 224, 220)};
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const int part = PartAt(x, y);
      // Light from the left, and some grain.
      const double shade = part == 1 ? std::exp2(-(x - kCx) / 130.0) : 1;
      for (int c = 0; c < 3; ++c)
        p.at(x, y)[c] = static_cast<float>(colours[part][c] * shade * (1 + 0.04 * Noise(x, y, 20 + c)));
    }
  return p;
}

image::PlaneU8 Nothing() {
  image::PlaneU8 plane(kWidth, kHeight);
  std::fill(plane.data().begin(), plane.data().end(), std::uint8_t{0});
  return plane;
}

struct Score {
  double precision = 0, face = 0, neck_and_arm = 0;
};

Score Judge(const image::PlaneU8& faces) {
  double found = 0, right = 0, face = 0, face_found = 0, rest = 0, rest_found = 0;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const bool is = *faces.at(x, y) != 0, skin = PartAt(x, y) == 1;
      found += is;
      right += is && skin;
      (y < 270 ? face : rest) += skin;
      (y < 270 ? face_found : rest_found) += is && skin;
    }
  return {found > 0 ? right / found : 0, face_found / face, rest_found / rest};
}

// log2 R/G and B/G of the medians of skin.
std::array<double, 2> SkinChroma(const image::RgbF& p, const image::PlaneU8& faces) {
  image::PlaneU8 labels(p.width(), p.height());
  for (std::size_t i = 0; i < labels.pixels(); ++i)
    labels.data()[i] =
        static_cast<std::uint8_t>(faces.data()[i] ? record::RegionKind::kSkin : record::RegionKind::kMasked);
  for (const record::RegionStat& s : RegionStatistics(p, labels, faces))
    if (s.kind == record::RegionKind::kSkin && s.face == 0)
      return {std::log2(s.quantiles[2][0] / s.quantiles[2][1]),
              std::log2(s.quantiles[2][2] / s.quantiles[2][1])};
  return {99, 99};
}

// Lightest, middle and darkest of the 100 (subjects 42, 55, 44) in linear BT.2020.
const Vec3 kSkins[] = {{0.5398, 0.4408, 0.3509}, {0.4657, 0.3505, 0.2397}, {0.1818, 0.1187, 0.0747}};

TEST(Skin, FaceNeckAndArmOfAnyToneUnderAnyCast) {
  for (const Vec3& tone : kSkins)
    for (const auto& [mired, green] :
         {std::pair{0.0, 0.0}, {80.0, 0.0}, {-60.0, 0.0}, {0.0, 14.0}, {0.0, -14.0}})
      for (const bool film : {false, true}) {
        const Vec3 gains = Mul(color::WhiteShiftRec2020(mired, green), Vec3{0.7, 0.7, 0.7});
        image::RgbF p = WithGains(Paint({tone}), gains);
        if (film) p = WithFilmCurve(p);
        const Skin skin = FindSkin(p, Nothing(), {kFace});
        const Score score = Judge(skin.faces);
        // What is labelled must be skin; how much of it is found matters less.
        EXPECT_GT(score.precision, 0.97) << tone[0] << " " << mired << " " << green << " " << film;
        EXPECT_GT(score.face, 0.75) << tone[0] << " " << mired << " " << green << " " << film;
        EXPECT_GT(score.neck_and_arm, 0.4) << tone[0] << " " << mired << " " << green << " " << film;
      }
}

// The measured colour must be the skin's and nothing else's: under a cast it moves by just the gains.
TEST(Skin, ChromaticityMovesWithTheCastOnly) {
  for (const Vec3& tone : kSkins) {
    const image::RgbF plain = Paint({tone});
    const auto before = SkinChroma(plain, FindSkin(plain, Nothing(), {kFace}).faces);
    EXPECT_NEAR(before[0], std::log2(tone[0] / tone[1]), 0.02);
    EXPECT_NEAR(before[1], std::log2(tone[2] / tone[1]), 0.02);
    const Vec3 gains = Mul(color::WhiteShiftRec2020(90, -8), Vec3{1, 1, 1});
    const image::RgbF cast = WithGains(plain, gains);
    const auto after = SkinChroma(cast, FindSkin(cast, Nothing(), {kFace}).faces);
    EXPECT_NEAR(after[0] - before[0], std::log2(gains[0] / gains[1]), 0.01);
    EXPECT_NEAR(after[1] - before[1], std::log2(gains[2] / gains[1]), 0.01);
    // A film-like curve is not linear: the same pixels through the same curve are the truth.
    const image::RgbF film = WithFilmCurve(plain);
    const auto found = SkinChroma(film, FindSkin(film, Nothing(), {kFace}).faces);
    const auto truth = SkinChroma(film, FindSkin(plain, Nothing(), {kFace}).faces);
    EXPECT_NEAR(found[0], truth[0], 0.02);
    EXPECT_NEAR(found[1], truth[1], 0.02);
  }
}

TEST(Skin, AWallOfTheSameColourIsNotSkin) {
  const image::RgbF p = Paint({kSkins[1], kSkins[1]});
  const image::PlaneU8 faces = FindSkin(p, Nothing(), {kFace}).faces;
  int far = 0;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) far += *faces.at(x, y) && (std::abs(x - kCx) > 110 || y > 330);
  EXPECT_EQ(far, 0);
  EXPECT_GT(Judge(faces).face, 0.6);
}

TEST(Skin, EachFaceHasItsOwn) {
  image::RgbF left = Paint({kSkins[0]}), both(2 * kWidth, kHeight);
  const image::RgbF right = Paint({kSkins[2]});
  for (int y = 0; y < kHeight; ++y) {
    std::copy_n(left.row(y), 3 * kWidth, both.row(y));
    std::copy_n(right.row(y), 3 * kWidth, both.row(y) + 3 * kWidth);
  }
  record::Face a = kFace, b = kFace;
  a.left /= 2, a.right /= 2;
  b.left = (b.left + 1) / 2, b.right = (b.right + 1) / 2;
  image::PlaneU8 none(2 * kWidth, kHeight);
  std::fill(none.data().begin(), none.data().end(), std::uint8_t{0});
  const image::PlaneU8 faces = FindSkin(both, none, {a, b}).faces;
  EXPECT_EQ(*faces.at(450, 230), 1);
  EXPECT_EQ(*faces.at(kWidth + 450, 230), 2);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < 2 * kWidth; ++x)
      if (*faces.at(x, y)) EXPECT_EQ(*faces.at(x, y), x < kWidth ? 1 : 2);
}

TEST(Skin, NoneWithoutFacesOrUnderAMask) {
  const image::RgbF p = Paint({kSkins[1]});
  const auto count = [](const image::PlaneU8& plane) {
    return std::count_if(plane.data().begin(), plane.data().end(), [](std::uint8_t v) { return v != 0; });
  };
  EXPECT_EQ(count(FindSkin(p, Nothing(), {}).faces), 0);
  image::PlaneU8 all = Nothing();
  std::fill(all.data().begin(), all.data().end(), std::uint8_t{255});
  EXPECT_EQ(count(FindSkin(p, all, {kFace}).faces), 0);
  // A box on something that has no common colour.
  image::RgbF confetti(kWidth, kHeight);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x)
      for (int c = 0; c < 3; ++c) confetti.at(x, y)[c] = 0.25f + 0.24f * Noise(x / 9, y / 9, c);
  EXPECT_EQ(count(FindSkin(confetti, Nothing(), {kFace}).faces), 0);
  // Boxes beyond the picture.
  EXPECT_EQ(count(FindSkin(p, Nothing(), {{1.2, 1.2, 1.5, 1.5, 1}, {-0.5, -0.5, -0.1, -0.1, 1}}).faces), 0);
}

// On photographs: under a cast the same pixels are found, so that the colours move by just the gains.
TEST(Skin, OfPhotographsMovesWithTheCast) {
  Result<std::unique_ptr<FaceFinder>> finder =
      FaceFinder::Open(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "models/blazeface.onnx");
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  int seen = 0;
  for (const char* name :
       {"people/sample1.jpg", "people/sample5.jpg", "people/sample6.jpg", "photos/astronaut.png"}) {
    const image::RgbF p = image::ShrinkTo(ReadAsset(name), kAnalysisLongSide);
    if (p.empty()) continue;
    const std::vector<record::Face> faces = (*finder)->Find(NeutralRendering(p, false));
    ASSERT_FALSE(faces.empty()) << name;
    ++seen;
    image::PlaneU8 none(p.width(), p.height());
    std::fill(none.data().begin(), none.data().end(), std::uint8_t{0});
    const auto before = SkinChroma(p, FindSkin(p, none, faces).faces);
    for (const auto& [mired, green] : {std::pair{70.0, 0.0}, {-50.0, 6.0}}) {
      const Vec3 gains = Mul(color::WhiteShiftRec2020(mired, green), Vec3{1, 1, 1});
      const image::RgbF cast = WithGains(p, gains);
      const auto after = SkinChroma(cast, FindSkin(cast, none, faces).faces);
      EXPECT_NEAR(after[0] - before[0], std::log2(gains[0] / gains[1]), 0.01) << name;
      EXPECT_NEAR(after[1] - before[1], std::log2(gains[2] / gains[1]), 0.01) << name;
    }
  }
  if (seen == 0) GTEST_SKIP() << "no photographs of people; run scripts/fetch-assets";
}

}  // namespace
}  // namespace samelight::measure
