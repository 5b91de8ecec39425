// DNG out and in: what the camera saw comes back as the colours that were put in. The camera and the patches
// are invented; exiftool is the outside reader of the file's structure.
#include "codec/dng.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "codec/read.h"
#include "codec/testing.h"

namespace samelight::codec {
namespace {

using testing::Folder;

const std::vector<Vec3> kPatches = {{0.18, 0.18, 0.18}, {0.40, 0.20, 0.10},   {0.10, 0.30, 0.08},
                                    {0.08, 0.12, 0.45}, {0.70, 0.68, 0.60},   {0.01, 0.01, 0.01},
                                    {0.45, 0.25, 0.18}, {0.002, 0.002, 0.002}};
constexpr int kColumns = 4, kPatch = 40;

Vec3 Scene(int x, int y) { return kPatches[static_cast<std::size_t>(y / kPatch * kColumns + x / kPatch)]; }

DngSpec Spec() {
  DngSpec spec = testing::CameraSpec();
  spec.capture.time_us = 1'717'254'245'123'000;  // 2024-06-01 15:04:05.123
  spec.capture.exposure_time_s = 1 / 250.0;
  spec.capture.aperture = 2.8;
  spec.capture.iso = 400;
  spec.capture.focal_mm = 35;
  spec.capture.focus_m = 2.5;
  spec.capture.flash = true;
  spec.capture.make = "Invented";
  spec.capture.body = "Body A";
  spec.capture.serial = "A-0017";
  spec.capture.lens = "Invented 35/2";
  spec.capture.creator = "Ada Example";
  spec.capture.copyright = "(c) Ada Example";
  return spec;
}

Vec3 Middle(const image::RgbF& picture, int patch, int patch_px = kPatch) {
  const float* v =
      picture.at(patch % kColumns * patch_px + patch_px / 2, patch / kColumns * patch_px + patch_px / 2);
  return {v[0], v[1], v[2]};
}

class EveryPattern : public ::testing::TestWithParam<std::array<std::uint8_t, 4>> {};

TEST_P(EveryPattern, ColoursComeBack) {
  Folder folder;
  DngSpec spec = Spec();
  spec.pattern = GetParam();
  ASSERT_TRUE(WriteDng(folder / "a.dng", testing::Mosaic(spec, 160, 80, Scene), spec).ok());
  const auto picture = ReadPicture(folder / "a.dng");
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  EXPECT_TRUE(picture->scene_referred);
  EXPECT_EQ(picture->photo.encoding, record::Encoding::kRaw);
  EXPECT_FALSE(picture->photo.profile_assumed);
  ASSERT_EQ(picture->pixels.width(), 160);
  ASSERT_EQ(picture->pixels.height(), 80);
  for (int p = 0; p < static_cast<int>(kPatches.size()); ++p) {
    const Vec3 got = Middle(picture->pixels, p), want = kPatches[static_cast<std::size_t>(p)];
    // Whole counts limit the dark patches: half a count of red is 2.5 % of the darkest one.
    const double bound = want[1] > 0.02 ? 0.05 : want[1] > 0.005 ? 0.15 : 0.35;
    EXPECT_LT(testing::Difference(got, want), bound)
        << "patch " << p << ": " << got[0] << ' ' << got[1] << ' ' << got[2];
  }
  for (std::size_t i = 0; i < 3; ++i) {
    const auto& row = picture->photo.raw.rec2020_from_camera[i];
    EXPECT_NEAR(row[0] + row[1] + row[2], 1, 1e-9);
    EXPECT_NEAR(picture->photo.raw.as_shot[i], 1 / spec.as_shot_neutral[i], 1e-5);
    EXPECT_NEAR(picture->photo.raw.daylight[i], 1 / spec.as_shot_neutral[i], 1e-5);
  }
}

INSTANTIATE_TEST_SUITE_P(Dng, EveryPattern,
                         ::testing::Values(std::array<std::uint8_t, 4>{0, 1, 1, 2},
                                           std::array<std::uint8_t, 4>{2, 1, 1, 0},
                                           std::array<std::uint8_t, 4>{1, 0, 2, 1},
                                           std::array<std::uint8_t, 4>{1, 2, 0, 1}));

TEST(Dng, HalfSizeOnlyWhenTwiceTheWantedSideIsLeft) {
  Folder folder;
  const DngSpec spec = Spec();
  ASSERT_TRUE(WriteDng(folder / "a.dng", testing::Mosaic(spec, 160, 80, Scene), spec).ok());
  ReadOptions options;
  options.at_least_long_side_px = 41;
  auto picture = ReadPicture(folder / "a.dng", options);
  ASSERT_TRUE(picture.ok());
  EXPECT_EQ(picture->pixels.width(), 160);
  options.at_least_long_side_px = 40;
  picture = ReadPicture(folder / "a.dng", options);
  ASSERT_TRUE(picture.ok());
  ASSERT_EQ(picture->pixels.width(), 80);
  ASSERT_EQ(picture->pixels.height(), 40);
  EXPECT_EQ(picture->photo.width_px, 160);
  for (int p = 0; p < static_cast<int>(kPatches.size()); ++p)
    EXPECT_LT(
        testing::Difference(Middle(picture->pixels, p, kPatch / 2), kPatches[static_cast<std::size_t>(p)]),
        0.35);
}

TEST(Dng, OrientationIsAppliedOnce) {
  Folder folder;
  DngSpec spec = Spec();
  const auto scene = [](int x, int y) { return testing::QuarterRec2020((y >= 24) * 2 + (x >= 40)); };
  const auto bayer = testing::Mosaic(spec, 80, 48, scene);
  for (int o = 1; o <= 8; ++o) {
    spec.orientation = o;
    ASSERT_TRUE(WriteDng(folder / "o.dng", bayer, spec).ok());
    const auto picture = ReadPicture(folder / "o.dng");
    ASSERT_TRUE(picture.ok()) << picture.error().Text();
    EXPECT_EQ(picture->pixels.width(), o >= 5 ? 48 : 80);
    EXPECT_EQ(picture->photo.width_px, picture->pixels.width());
    const auto facts = ReadFacts(folder / "o.dng");
    ASSERT_TRUE(facts.ok());
    EXPECT_EQ(facts->width_px, picture->photo.width_px);
    EXPECT_EQ(facts->height_px, picture->photo.height_px);
    for (int at = 0; at < 4; ++at)
      EXPECT_LT(testing::Difference(testing::QuarterColour(picture->pixels, at),
                                    testing::QuarterRec2020(testing::StoredQuarter(o, at))),
                0.1)
          << "orientation " << o << " quarter " << at;
  }
}

TEST(Dng, ExiftoolFindsNoFaultAndEveryFact) {
  Folder folder;
  const DngSpec spec = Spec();
  const auto file = folder / "a.dng";
  ASSERT_TRUE(WriteDng(file, testing::Mosaic(spec, 160, 80, Scene), spec).ok());
  EXPECT_EQ(testing::Run("exiftool -validate -warning -error -a -s3 " + file.string()), "OK\n");
  const auto values =
      testing::Exif(file, {"ExposureTime", "FNumber", "SubSecDateTimeOriginal", "ISO", "FocalLength",
                           "SubjectDistance", "Flash", "Make", "Model", "SerialNumber", "LensModel", "Artist",
                           "Copyright", "CFAPattern2", "BlackLevel", "WhiteLevel", "CalibrationIlluminant1"});
  EXPECT_NEAR(std::stod(values[0]), 0.004, 1e-8);
  EXPECT_NEAR(std::stod(values[1]), 2.8, 1e-6);
  EXPECT_THAT(std::vector<std::string>(values.begin() + 2, values.end()),
              ::testing::ElementsAre("2024:06:01 15:04:05.123000", "400", "35", "2.5", "1", "Invented",
                                     "Body A", "A-0017", "Invented 35/2", "Ada Example", "(c) Ada Example",
                                     "0 1 1 2", "512", "16383", "21"));
}

TEST(Dng, FactsComeBack) {
  Folder folder;
  DngSpec spec = Spec();
  ASSERT_TRUE(WriteDng(folder / "a.dng", testing::Mosaic(spec, 160, 80, Scene), spec).ok());
  const auto facts = ReadFacts(folder / "a.dng");
  ASSERT_TRUE(facts.ok());
  const record::Capture &got = facts->capture, &want = spec.capture;
  EXPECT_EQ(got.time_us, want.time_us);
  EXPECT_FALSE(got.has_zone);
  EXPECT_NEAR(got.exposure_time_s.value_or(0), *want.exposure_time_s, 1e-6);
  EXPECT_NEAR(got.aperture.value_or(0), 2.8, 1e-6);
  EXPECT_EQ(got.iso, 400);
  EXPECT_EQ(got.focal_mm, 35);
  EXPECT_EQ(got.focus_m, 2.5);
  EXPECT_EQ(got.flash, true);
  EXPECT_EQ(got.make, want.make);
  EXPECT_EQ(got.body, want.body);
  EXPECT_EQ(got.serial, want.serial);
  EXPECT_EQ(got.lens, want.lens);
  EXPECT_EQ(got.creator, want.creator);
  EXPECT_EQ(got.copyright, want.copyright);
  EXPECT_FALSE(got.film_scanner);
  EXPECT_TRUE(facts->hash.empty());

  spec.capture.has_zone = true;
  spec.capture.film_scanner = true;
  ASSERT_TRUE(WriteDng(folder / "b.dng", testing::Mosaic(spec, 160, 80, Scene), spec).ok());
  const auto zoned = ReadFacts(folder / "b.dng");
  ASSERT_TRUE(zoned.ok());
  EXPECT_EQ(zoned->capture.time_us, want.time_us);
  EXPECT_TRUE(zoned->capture.has_zone);
  EXPECT_TRUE(zoned->capture.film_scanner);
}

// A grey that brightens over the clip level of each channel in turn: never coloured, never darker again.
TEST(Dng, HighlightsStayNeutral) {
  Folder folder;
  const DngSpec spec = Spec();
  const int width = 512;
  const auto level = [&](int x) { return 0.5 * std::pow(8.0, double(x) / width); };  // 0.5 .. 4
  const auto bayer = testing::Mosaic(spec, width, 32, [&](int x, int) {
    return Vec3{level(x), level(x), level(x)};
  });
  ASSERT_TRUE(WriteDng(folder / "h.dng", bayer, spec).ok());
  const auto picture = ReadPicture(folder / "h.dng");
  ASSERT_TRUE(picture.ok());
  double before = 0;
  for (int x = 8; x < width - 8; ++x) {
    const float* v = picture->pixels.at(x, 16);
    const double most = std::max({v[0], v[1], v[2]}), least = std::min({v[0], v[1], v[2]});
    EXPECT_LT(most / least, 1.06) << "at " << level(x) << ": " << v[0] << ' ' << v[1] << ' ' << v[2];
    EXPECT_GT(v[1], before * 0.97) << level(x);
    before = std::max<double>(before, v[1]);
    if (level(x) < 0.9) {
      EXPECT_NEAR(v[1], level(x), 0.01 * level(x));
    }
  }
  EXPECT_GT(before, 1.5);  // red, the least sensitive channel, still told brightness above green's clip level
}

// Noise around black must average out to black, not to something above it and not to a cast.
TEST(Dng, NoiseBelowBlackIsKept) {
  Folder folder;
  const DngSpec spec = Spec();
  auto bayer = testing::Mosaic(spec, 256, 256, [](int, int) { return Vec3{0, 0, 0}; });
  unsigned state = 1;
  for (auto& v : bayer.data()) {
    state = state * 1664525u + 1013904223u;  // Numerical Recipes' generator: any fixed noise will do
    v = static_cast<std::uint16_t>(v + (state >> 16) % 81 - 40);
  }
  ASSERT_TRUE(WriteDng(folder / "n.dng", bayer, spec).ok());
  const auto picture = ReadPicture(folder / "n.dng");
  ASSERT_TRUE(picture.ok());
  double sum[3] = {};
  for (std::size_t i = 0; i < picture->pixels.data().size(); ++i) sum[i % 3] += picture->pixels.data()[i];
  for (const double s : sum) EXPECT_NEAR(s / double(picture->pixels.pixels()), 0, 6e-5);
}

TEST(Dng, WrongInputIsRefused) {
  Folder folder;
  DngSpec spec = Spec();
  const image::Raster<std::uint16_t, 1> bayer(16, 16);
  spec.white = spec.black;
  EXPECT_EQ(WriteDng(folder / "a.dng", bayer, spec).error().code, ErrorCode::kInvalidArgument);
  spec = Spec();
  spec.orientation = 9;
  EXPECT_EQ(WriteDng(folder / "a.dng", bayer, spec).error().code, ErrorCode::kInvalidArgument);
  spec = Spec();
  spec.as_shot_neutral[0] = 0;
  EXPECT_EQ(WriteDng(folder / "a.dng", bayer, spec).error().code, ErrorCode::kInvalidArgument);
  EXPECT_FALSE(std::filesystem::exists(folder / "a.dng"));
  EXPECT_EQ(WriteDng(folder / "none/a.dng", bayer, Spec()).error().code, ErrorCode::kNotFound);
}

}  // namespace
}  // namespace samelight::codec
