#include "measure/descriptors.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numeric>

#include "measure/local_features.h"

namespace samelight::measure {
namespace {

// Overlapping discs; the same on every machine.
image::RgbF Discs(unsigned seed, int width_px = 640, int height_px = 480) {
  std::uint32_t state = seed * 2654435761u + 12345;
  const auto next = [&](int below) {
    state = state * 1664525u + 1013904223u;
    return static_cast<int>((state >> 8) % below);
  };
  image::RgbF out(width_px, height_px);
  std::fill(out.data().begin(), out.data().end(), 0.2f);
  for (int n = 0; n < 500; ++n) {
    const int r = 3 + next(28), cx = next(width_px), cy = next(height_px);
    const float level = std::exp2(-static_cast<float>(next(50)) / 10);
    for (int y = std::max(0, cy - r); y < std::min(height_px, cy + r); ++y)
      for (int x = std::max(0, cx - r); x < std::min(width_px, cx + r); ++x)
        if ((x - cx) * (x - cx) + (y - cy) * (y - cy) < r * r)
          for (int c = 0; c < 3; ++c) out.at(x, y)[c] = level * (c == 1 ? 1.f : 0.8f);
  }
  return out;
}

Analysis Of(image::RgbF pixels) {
  Analysis a;
  a.pixels = std::move(pixels);
  return a;
}

double Similarity(const Features& a, const Features& b) {
  return std::inner_product(a.global.begin(), a.global.end(), b.global.begin(), 0.0);
}

TEST(Descriptors, ExposureAndCastHardlyMatter) {
  Analysis a = Of(Discs(1)), b = a;
  for (std::size_t i = 0; i < b.pixels.pixels(); ++i) {
    float* p = b.pixels.data().data() + 3 * i;
    p[0] *= 0.5f;
    p[1] *= 0.25f;
    p[2] *= 0.125f;
  }
  const Features fa = ExtractFeatures(a), fb = ExtractFeatures(b);
  EXPECT_GT(Similarity(fa, fb), 0.995);
  ASSERT_GT(fa.points.size(), 300u);
  int same = 0;
  for (const Keypoint& p : fa.points)
    for (const Keypoint& q : fb.points)
      if (std::hypot(p.x - q.x, p.y - q.y) < 1e-3 &&
          std::abs(std::remainder(p.angle_deg - q.angle_deg, 360)) < 5) {
        ++same;
        break;
      }
  EXPECT_GT(same, static_cast<int>(fa.points.size()) * 9 / 10);
}

TEST(Descriptors, ShapesAndRanges) {
  const Features f = ExtractFeatures(Of(Discs(2)));
  EXPECT_EQ(f.local.size(), f.points.size() * kLocalSize);
  EXPECT_NEAR(Similarity(f, f), 1, 1e-5);
  for (const Keypoint& p : f.points) {
    EXPECT_TRUE(p.x > 0 && p.x < 1 && p.y > 0 && p.y < 1);
    EXPECT_TRUE(p.angle_deg >= 0 && p.angle_deg < 360);
    EXPECT_GT(p.size, 0);
  }
  for (std::size_t i = 0; i < f.points.size(); ++i) {
    double norm2 = 0;
    for (int k = 0; k < kLocalSize; ++k) norm2 += std::pow(f.local[i * kLocalSize + k], 2);
    EXPECT_NEAR(std::sqrt(norm2), 512, 12);
  }
  EXPECT_LT(Similarity(f, ExtractFeatures(Of(Discs(3)))), 0.5);
}

// The best n are spread: each quarter of the picture has its part of the first hundred.
TEST(Descriptors, TheFirstAreSpreadOverThePicture) {
  const Features f = ExtractFeatures(Of(Discs(4)));
  int quarter[4] = {};
  for (int i = 0; i < 100; ++i) ++quarter[(f.points[i].x > 0.5) + 2 * (f.points[i].y > 0.5)];
  for (int q : quarter) EXPECT_GT(q, 12);
}

TEST(Descriptors, MaskedPixelsGiveNone) {
  Analysis a = Of(Discs(5));
  a.labels = image::PlaneU8(640, 480);
  for (int y = 0; y < 480; ++y)
    for (int x = 0; x < 640; ++x)
      *a.labels.at(x, y) = x < 320 ? static_cast<std::uint8_t>(record::RegionKind::kMasked) : 0;
  const Features f = ExtractFeatures(a);
  ASSERT_GT(f.points.size(), 50u);
  for (const Keypoint& p : f.points) EXPECT_GE(p.x, 0.495);
}

TEST(Descriptors, PicturesWithoutContentGiveNoFeatures) {
  EXPECT_TRUE(ExtractFeatures({}).points.empty());
  image::RgbF flat(300, 200);
  std::fill(flat.data().begin(), flat.data().end(), 0.f);
  EXPECT_TRUE(ExtractFeatures(Of(flat)).points.empty());
  for (std::size_t i = 0; i < flat.data().size(); i += 7)
    flat.data()[i] = std::numeric_limits<float>::quiet_NaN();
  EXPECT_TRUE(ExtractFeatures(Of(flat)).points.empty());
  EXPECT_TRUE(ExtractFeatures(Of(image::RgbF(1, 1))).points.empty());
}

// A Gaussian blob of deviation s responds most at s (scale-normalised Laplacian, Lindeberg 1998), in its
// middle.
TEST(LocalFeatures, FindABlobAtItsPlaceAndSize) {
  for (const double s : {3.0, 6.0, 11.0}) {
    image::PlaneF picture(160, 140);
    for (int y = 0; y < 140; ++y)
      for (int x = 0; x < 160; ++x) {
        const double dx = x + 0.5 - 71.3, dy = y + 0.5 - 64.8;
        *picture.at(x, y) = static_cast<float>(2 * std::exp(-(dx * dx + 1.05 * dy * dy) / (2 * s * s)));
      }
    image::PlaneU8 valid(160, 140);
    std::fill(valid.data().begin(), valid.data().end(), std::uint8_t{1});
    const auto found = FindLocalFeatures(picture, valid, 10);
    ASSERT_FALSE(found.empty()) << s;
    EXPECT_NEAR(found[0].x, 71.3, 0.3) << s;
    EXPECT_NEAR(found[0].y, 64.8, 0.3) << s;
    // The difference of Gaussians k apart peaks where sqrt(k) times its lower blur is s.
    EXPECT_NEAR(found[0].sigma_px * std::pow(2, 1 / 6.0), s, 0.15 * s) << s;
  }
}

// A ramp's main direction is where it rises; turning the picture by a quarter turns the feature by 90
// degrees.
TEST(LocalFeatures, TurnWithThePicture) {
  const image::RgbF discs = Discs(6, 256, 256);
  image::PlaneF plain(256, 256), turned(256, 256);
  for (int y = 0; y < 256; ++y)
    for (int x = 0; x < 256; ++x) {
      *plain.at(x, y) = 3 * discs.at(x, y)[1];
      *turned.at(255 - y, x) = 3 * discs.at(x, y)[1];  // a quarter clockwise
    }
  image::PlaneU8 valid(256, 256);
  std::fill(valid.data().begin(), valid.data().end(), std::uint8_t{1});
  const auto a = FindLocalFeatures(plain, valid, 200), b = FindLocalFeatures(turned, valid, 200);
  int matched = 0;
  for (const LocalFeature& p : a)
    for (const LocalFeature& q : b)
      if (std::hypot(q.x - (256 - p.y), q.y - p.x) < 0.5 &&
          std::abs(std::remainder(q.angle_deg - p.angle_deg - 90, 360)) < 3) {
        int difference = 0;
        for (int k = 0; k < 128; ++k)
          difference = std::max(difference, std::abs(p.descriptor[k] - q.descriptor[k]));
        EXPECT_LT(difference, 40);
        ++matched;
        break;
      }
  // Halving the picture keeps every second pixel, and which ones depends on the turn: not all features come
  // back.
  EXPECT_GT(matched, static_cast<int>(a.size()) * 7 / 10);
}

}  // namespace
}  // namespace samelight::measure
