#include "simulate/camera.h"

#include <gtest/gtest.h>

#include <cmath>

#include "color/cie_tables.h"
#include "color/difference.h"
#include "color/lab.h"
#include "simulate/tables.h"

namespace samelight::simulate {
namespace {

// Mean CIEDE2000 of the best 3x3 to XYZ under D65 on the 24 patches of Ohta 1997, found by a separate
// implementation: a 0.99, c 1.45, d 0.76, e 0.92, b 1.95. Ours is fitted on other surfaces too and to the
// camera, not to XYZ, so it may be somewhat worse, but not better by much.
TEST(Camera, MatrixIsAsGoodAsItsSensitivitiesAllow) {
  const double best[] = {0.99, 1.45, 0.76, 0.92, 1.95};
  const color::Spectrum d65 = UnitY(color::kIlluminantD65);
  const Vec3 white = color::XyzOfIlluminant(d65);
  for (int index = 0; index <= kStackedCamera; ++index) {
    const Camera camera = MakeCamera(index, 1);
    const Mat3 xyz_from_camera = Inverse(camera.camera_from_xyz);
    double mean = 0;
    for (const auto& patch : Table("target24")) {
      color::Spectrum radiance;
      for (std::size_t k = 0; k < radiance.size(); ++k) radiance[k] = patch.values[k] * d65[k];
      const Vec3 seen = color::LabFromXyz(Mul(xyz_from_camera, Respond(camera.sees, radiance)), white);
      mean +=
          color::Ciede2000(seen, color::LabFromXyz(color::XyzOfReflectance(patch.values, d65), white)) / 24;
    }
    EXPECT_GT(mean, 0.7 * best[index]) << index;
    EXPECT_LT(mean, 2.2 * best[index] + 0.4) << index;
    const Vec3 neutral = Mul(camera.camera_from_xyz, white), own = Respond(camera.sees, d65);
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(neutral[c] / own[c], 1, 1e-3);
    for (const auto& row : camera.srgb_from_balanced) EXPECT_NEAR(row[0] + row[1] + row[2], 1, 1e-9);
  }
}

// Photon transfer: variance of a flat field in electrons is the mean plus the read noise squared (EMVA 1288),
// also where a pixel of the picture sums several of the sensor's.
TEST(Camera, NoiseIsThatOfPhotons) {
  Camera camera = MakeCamera(2, 1);
  codec::DngSpec spec;
  for (int across : {1, 2})
    for (double level : {0.02, 0.2, 0.6}) {
      camera.long_side_px = 256 * across;
      Shot shot;
      shot.iso = 800;
      shot.noise_seed = 4;
      image::RgbF flat(256, 256);
      std::fill(flat.data().begin(), flat.data().end(), static_cast<float>(level));
      const auto bayer = Mosaic(camera, flat, shot, spec);
      const double well = across * across * camera.full_well_iso100 / 8,
                   per_count = well / (spec.white - spec.black);
      double mean = 0, square = 0;
      for (auto v : bayer.data()) {
        const double electrons = (v - spec.black) * per_count;
        mean += electrons / bayer.pixels();
        square += electrons * electrons / bayer.pixels();
      }
      EXPECT_NEAR(mean, level * well, 0.01 * level * well);
      const double read = across * camera.read_noise;
      const double expected = level * well + read * read + per_count * per_count / 12;
      EXPECT_NEAR((square - mean * mean) / expected, 1, 0.05) << level;
    }
}

TEST(Camera, SaturationClipsAtWhite) {
  const Camera camera = MakeCamera(0, 1);
  codec::DngSpec spec;
  image::RgbF flat(8, 8);
  std::fill(flat.data().begin(), flat.data().end(), 5.0f);
  const auto bayer = Mosaic(camera, flat, {}, spec);
  for (auto v : bayer.data()) EXPECT_EQ(v, spec.white);
}

TEST(Camera, ExposureAndVignettingAreWhatTheySay) {
  Camera camera = MakeCamera(1, 1);
  image::RgbF response(101, 101);
  std::fill(response.data().begin(), response.data().end(), 0.18f);
  Shot shot;
  shot.exposure_ev = 1;
  EXPECT_NEAR(Illuminate(camera, response, 1, shot).at(50, 50)[1], 0.24, 1e-5);
  camera.vignetting_ev = 1;
  const image::RgbF dark = Illuminate(camera, response, 1, shot);
  EXPECT_NEAR(dark.at(50, 50)[1], 0.24, 1e-5);
  EXPECT_NEAR(dark.at(0, 0)[1], 0.12, 0.006);
}

TEST(Camera, OwnPictureIsContrastyAndClips) {
  const Camera camera = MakeCamera(3, 2);
  Shot shot;
  shot.as_shot_neutral = {1, 1, 1};
  const auto value = [&](float level) {
    image::RgbF flat(16, 16);
    std::fill(flat.data().begin(), flat.data().end(), level);
    return static_cast<double>(Develop(camera, flat, shot).data()[1]);
  };
  // Steeper around mid-grey than the sRGB curve (about 0.17 per stop there), and white before the sensor is
  // full.
  EXPECT_GT((value(0.24f) - value(0.06f)) / 255 / 2, 0.175);
  EXPECT_EQ(value(0.9f), 255);
  EXPECT_LT(value(0.001f), 12);
}

// Common practice: a camera's own picture is white where its sensor is full, whatever the light.
TEST(Camera, OwnPictureOfAFullSensorIsWhiteInWarmAndInColdLight) {
  const Camera camera = MakeCamera(3, 2);
  for (const Vec3& neutral : {Vec3{1.6, 1, 0.6}, Vec3{0.45, 1, 0.8}, Vec3{0.4, 1, 1.2}}) {
    Shot shot;
    shot.as_shot_neutral = neutral;
    image::RgbF flat(16, 16);
    for (std::size_t i = 0; i < flat.data().size(); ++i)
      flat.data()[i] = static_cast<float>(4 * neutral[i % 3]);
    const image::RgbU8 picture = Develop(camera, flat, shot);
    for (int c = 0; c < 3; ++c) EXPECT_GE(picture.at(8, 8)[c], 250) << neutral[0] << ' ' << c;
  }
}

TEST(Camera, GuessOfNeutralIsNearAndOffByChance) {
  const Camera camera = MakeCamera(2, 1);
  const Vec3 truth{0.8, 1, 0.6};
  image::RgbF grey(32, 32);
  for (std::size_t i = 0; i < grey.data().size(); ++i)
    grey.data()[i] = static_cast<float>(0.2 * truth[i % 3]);
  double square = 0;
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    const Vec3 guess = GuessNeutral(camera, grey, truth, seed);
    EXPECT_EQ(guess[1], 1);
    EXPECT_NEAR(std::log2(guess[0] / truth[0]), 0, 0.4);
    square += std::pow(std::log(guess[2] / GuessNeutral(camera, grey, truth, 1000 + seed)[2]), 2) / 200;
  }
  EXPECT_GT(std::sqrt(square), 0.03);
}

}  // namespace
}  // namespace samelight::simulate
