// DNG out and in: what the camera saw comes back as the colours that were put in. The camera and the patches
// are invented; exiftool is the outside reader of the file's structure.
#include "codec/dng.h"

#include <gtest/gtest.h>

#include <cmath>

#include "codec/read.h"
#include "codec/testing.h"
#include "color/difference.h"
#include "color/lab.h"

namespace samelight::codec {
namespace {

using testing::Folder;

const std::vector<Vec3> kPatches = {{0.18, 0.18, 0.18}, {0.40, 0.20, 0.10},   {0.10, 0.30, 0.08},
                                    {0.08, 0.12, 0.45}, {0.70, 0.68, 0.60},   {0.01, 0.01, 0.01},
                                    {0.45, 0.25, 0.18}, {0.002, 0.002, 0.002}};
constexpr int kColumns = 4, kPatch = 40;

DngSpec Spec() {
  DngSpec spec;
  spec.camera_from_xyz = testing::CameraFromXyz();
  const Vec3 n = Mul(spec.camera_from_xyz, color::XyzFromXy(color::kD65));
  spec.as_shot_neutral = {n[0] / n[1], 1, n[2] / n[1]};
  spec.capture.time_us = 1'717'254'245'123'000;  // 2024-06-01 15:04:05.123
  spec.capture.exposure_time_s = 1 / 250.0;
  spec.capture.aperture = 2.8;
  spec.capture.iso = 400;
  spec.capture.focal_mm = 35;
  spec.capture.focus_m = 2.5;
  spec.capture.flash = false;
  spec.capture.make = "Invented";
  spec.capture.body = "Body A";
  spec.capture.serial = "A-0017";
  spec.capture.lens = "Invented 35/2";
  return spec;
}

image::Raster<std::uint16_t, 1> Bayer(const DngSpec& spec, double gain = 1) {
  const Mat3 camera_from_rec2020 = Mul(spec.camera_from_xyz, color::XyzFromRgb(color::Space::kRec2020));
  const double green = Mul(camera_from_rec2020, Vec3{1, 1, 1})[1];
  const int rows = static_cast<int>(kPatches.size()) / kColumns;
  image::Raster<std::uint16_t, 1> out(kColumns * kPatch, rows * kPatch);
  for (int y = 0; y < out.height(); ++y)
    for (int x = 0; x < out.width(); ++x) {
      const Vec3 camera = Mul(camera_from_rec2020, kPatches[std::size_t(y / kPatch * kColumns + x / kPatch)]);
      const double v = gain * camera[spec.pattern[std::size_t(y % 2 * 2 + x % 2)]] / green;
      *out.at(x, y) = static_cast<std::uint16_t>(std::clamp(
          std::lround(spec.black + v * (spec.white - spec.black)), 0l, static_cast<long>(spec.white)));
    }
  return out;
}

Vec3 Middle(const image::RgbF& picture, int patch) {
  const float* v = picture.at(patch % kColumns * kPatch + kPatch / 2, patch / kColumns * kPatch + kPatch / 2);
  return {v[0], v[1], v[2]};
}

TEST(Dng, ColoursComeBack) {
  Folder folder;
  const DngSpec spec = Spec();
  ASSERT_TRUE(WriteDng(folder / "a.dng", Bayer(spec), spec).ok());
  const auto picture = ReadPicture(folder / "a.dng");
  ASSERT_TRUE(picture.ok()) << picture.error().Text();
  EXPECT_TRUE(picture->scene_referred);
  EXPECT_EQ(picture->photo.encoding, record::Encoding::kRaw);
  ASSERT_EQ(picture->pixels.width(), 160);
  for (int p = 0; p < static_cast<int>(kPatches.size()); ++p) {
    const Vec3 got = Middle(picture->pixels, p), want = kPatches[std::size_t(p)];
    // Whole counts limit the dark patches: half a count of red is 2.5 % of the darkest one.
    const double bound = want[1] > 0.02 ? 0.05 : want[1] > 0.005 ? 0.15 : 0.35;
    EXPECT_LT(color::Ciede2000(color::LabFromRec2020(got), color::LabFromRec2020(want)), bound)
        << "patch " << p << ": " << got[0] << ' ' << got[1] << ' ' << got[2];
  }
  for (int i = 0; i < 3; ++i) {
    const auto& row = picture->photo.raw.rec2020_from_camera[std::size_t(i)];
    EXPECT_NEAR(row[0] + row[1] + row[2], 1, 1e-9);
    EXPECT_NEAR(picture->photo.raw.as_shot[std::size_t(i)], 1 / spec.as_shot_neutral[std::size_t(i)], 2e-4);
    EXPECT_NEAR(picture->photo.raw.daylight[std::size_t(i)], picture->photo.raw.as_shot[std::size_t(i)],
                2e-3);
  }
}

}  // namespace
}  // namespace samelight::codec
