// Colour noise of high sensitivities through the whole way of a raw file: an invented scene of published
// colours, photons counted by an invented sensor, LibRaw, and what ReadPicture makes of it, against the same
// file without noise.
#include <cmath>
#include <cstdio>
#include <random>

#include "codec/raw.h"
#include "codec/read.h"
#include "codec/testing.h"
#include "color/difference.h"
#include "image/resize.h"
#include "image/samples.h"

namespace samelight::codec {
namespace {

using testing::Folder;

constexpr int kWidth = 480, kHeight = 320, kBand = 80, kMiddle = kWidth / 2;

// tests/published/target24_D50_xyY_Lab.csv, average of 30 targets: light skin, moderate red, foliage, blue;
// grey. Exposed half a stop under white.
Vec3 Colour(const Vec3& lab) {
  Vec3 v = color::Rec2020FromLab(lab);
  for (double& c : v) c *= 0.7;
  return v;
}
const Vec3 kSkin = Colour({65.943, 17.871, 17.874}), kLips = Colour({51.599, 47.786, 16.885}),
           kLeaf = Colour({43.286, -13.240, 21.939}), kGrey = Colour({50, 0, 0});

Vec3 Scene(int x, int y) {
  const bool left = x < kMiddle;
  switch (y / kBand) {
    case 0:
      return left ? kSkin : kLips;
    case 1:
      return left ? kSkin : kLeaf;
    case 2:
      return left ? kGrey : kLips;
    default: {  // detail of luminance alone
      const double wave = 1 + 0.25 * std::sin(2 * 3.14159265358979 * x / (left ? 5.0 : 9.0));
      return {kGrey[0] * wave, kGrey[1] * wave, kGrey[2] * wave};
    }
  }
}

struct Sensor {
  double iso;
  // From memory: a full-frame pixel holds some 50,000 electrons at ISO 100; read-out adds about 2.5.
  double full() const { return 50000 * 100 / iso; }
  static constexpr double kRead = 2.5;
};

// The file's picture as it is read, and the same without the step in question.
struct Read {
  image::RgbF picture, untouched;
};
Read Through(const Folder& folder, const image::Raster<std::uint16_t, 1>& mosaic, const DngSpec& spec) {
  EXPECT_TRUE(WriteDng(folder / "a.dng", mosaic, spec).ok());
  auto picture = ReadPicture(folder / "a.dng");
  EXPECT_TRUE(picture.ok());
  auto raw = ReadRaw(testing::ReadBytes(folder / "a.dng"), 0, {}, {});
  EXPECT_TRUE(raw.ok());
  Read read;
  read.picture = std::move(picture->pixels);
  raw->linear.matrix = raw->facts.colour.rec2020_from_camera;
  image::MakeLinear(image::SixteenLinear(std::move(raw->camera), raw->linear), read.untouched);
  return read;
}

// Root mean square of the differences in a* and b*, as pixels are and as seen from where a pixel is a third
// of an arc minute (blurred by two pixels, common practice), away from edges.
double ChromaError(const image::RgbF& a, const image::RgbF& clean, double blur_px) {
  const image::RgbF p = blur_px > 0 ? image::Blur(a, blur_px) : a;
  double sum = 0;
  int count = 0;
  for (int y = 0; y < kHeight; ++y) {
    if (y % kBand < 12 || y % kBand >= kBand - 12 || y / kBand == 3) continue;
    for (int x = 20; x < kWidth - 20; ++x) {
      if (std::abs(x - kMiddle) < 20) continue;
      const float *u = p.at(x, y), *v = clean.at(x, y);
      const Vec3 one = color::LabFromRec2020({u[0], u[1], u[2]}),
                 two = color::LabFromRec2020({v[0], v[1], v[2]});
      for (int c = 1; c < 3; ++c) sum += (one[c] - two[c]) * (one[c] - two[c]);
      ++count;
    }
  }
  return std::sqrt(sum / count);
}

// Of luminance in the textured band against the clean picture, dB below white.
double LumaPsnr(const image::RgbF& a, const image::RgbF& clean) {
  const image::PlaneF p = image::Luminance(a), q = image::Luminance(clean);
  double sum = 0;
  int count = 0;
  for (int y = 3 * kBand + 8; y < kHeight - 8; ++y)
    for (int x = 8; x < kWidth - 8; ++x, ++count) sum += std::pow(*p.at(x, y) - *q.at(x, y), 2);
  return -10 * std::log10(sum / count);
}

// Largest difference of the means of columns across the edges, CIEDE2000: noise is gone from means of 56
// pixels of several pictures, bleeding stays. `clean` empty: against the scene itself. The `beside` columns
// on either side of an edge are left out.
double Bleeding(const std::vector<image::RgbF>& noisy, const image::RgbF& clean, int first, int end,
                int beside = 0) {
  double most = 0;
  for (int band = first; band < end; ++band)
    for (int x = kMiddle - 16; x < kMiddle + 16; ++x) {
      if (x >= kMiddle - beside && x < kMiddle + beside) continue;
      Vec3 own{0, 0, 0}, wanted{0, 0, 0};
      for (int y = band * kBand + 12; y < (band + 1) * kBand - 12; ++y)
        for (int c = 0; c < 3; ++c) {
          for (const image::RgbF& p : noisy) own[c] += p.at(x, y)[c] / static_cast<double>(noisy.size());
          wanted[c] += clean.empty() ? Scene(x, y)[c] : clean.at(x, y)[c];
        }
      for (int c = 0; c < 3; ++c) {
        own[c] /= kBand - 24;
        wanted[c] /= kBand - 24;
      }
      most = std::max(most, color::Ciede2000(color::LabFromRec2020(own), color::LabFromRec2020(wanted)));
    }
  return most;
}

TEST(HighSensitivity, ColourNoiseGoesLuminanceAndEdgesStay) {
  const Folder folder;
  const DngSpec spec = testing::CameraSpec();
  const auto clean_mosaic = testing::Mosaic(spec, kWidth, kHeight, Scene);
  const image::RgbF clean = Through(folder, clean_mosaic, spec).untouched;
  for (const double iso : {100.0, 800.0, 3200.0, 6400.0, 12800.0}) {
    const Sensor sensor{iso};
    std::vector<image::RgbF> pictures, untouched;
    double before[2] = {}, after[2] = {}, luma_before = 0, luma_after = 0;
    constexpr int kRolls = 4;
    for (int roll = 0; roll < kRolls; ++roll) {
      std::mt19937 random(static_cast<unsigned>(iso) + static_cast<unsigned>(roll));
      auto mosaic = clean_mosaic;
      for (std::uint16_t& v : mosaic.data()) {
        const double electrons = std::max(0.0, (v - spec.black) * sensor.full() / (spec.white - spec.black));
        const double counted = std::poisson_distribution<int>(electrons)(random) +
                               std::normal_distribution<double>(0, Sensor::kRead)(random);
        v = static_cast<std::uint16_t>(std::clamp(
            std::round(spec.black + counted * (spec.white - spec.black) / sensor.full()), 0.0, 16383.0));
      }
      Read read = Through(folder, mosaic, spec);
      for (const int i : {0, 1}) {
        before[i] += ChromaError(read.untouched, clean, 2 * i) / kRolls;
        after[i] += ChromaError(read.picture, clean, 2 * i) / kRolls;
      }
      luma_before += LumaPsnr(read.untouched, clean) / kRolls;
      luma_after += LumaPsnr(read.picture, clean) / kRolls;
      if (iso <= 100) {
        EXPECT_EQ(read.picture.data(), read.untouched.data()) << "what is not seen is left alone";
      }
      pictures.push_back(std::move(read.picture));
      untouched.push_back(std::move(read.untouched));
    }
    // Against the clean file and against the same files left alone: interpolating noisy colours blurs edges
    // by itself. Grey and red are of the same lightness: nothing but the noisy differences tells them apart.
    const double edges = Bleeding(pictures, clean, 0, 2), level = Bleeding(pictures, clean, 2, 3),
                 edges_before = Bleeding(untouched, clean, 0, 2),
                 level_before = Bleeding(untouched, clean, 2, 3);
    std::printf(
        "ISO %5.0f: a*b* %.2f -> %.2f, at viewing distance %.2f -> %.2f; luminance %.2f -> %.2f dB; edges "
        "%.2f -> "
        "%.2f, of equal lightness %.2f -> %.2f\n",
        iso, before[0], after[0], before[1], after[1], luma_before, luma_after, edges_before, edges,
        level_before, level);
    // The columns at the edge itself are off by more than that however they are read: interpolation moves it.
    const double further = Bleeding(pictures, clean, 0, 2, 1), scene = Bleeding(pictures, {}, 0, 3),
                 scene_before = Bleeding(untouched, {}, 0, 3);
    std::printf("          from the second pixel on %.2f; at the edge against the scene %.2f -> %.2f\n",
                further, scene_before, scene);
    EXPECT_LT(further, 2.5) << iso;
    EXPECT_LT(scene, scene_before + 0.1) << iso;
    EXPECT_NEAR(luma_after, luma_before, 0.01) << iso;
    // Images are seen to differ from about 2.5 on (Song & Luo 2001); where noise is stronger than that,
    // colours at an edge stray less than it did.
    EXPECT_LT(std::max(edges, level), std::max(2.5, before[0])) << iso;
    if (iso < 3200) continue;
    EXPECT_LT(after[0], 0.4 * before[0]) << iso;
    EXPECT_LT(after[1], 0.6 * before[1]) << iso;
  }
}

}  // namespace
}  // namespace samelight::codec
