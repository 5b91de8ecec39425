// Pictures that the tests of this folder share. Invented ones say so; photographs are those of
// scripts/fetch-assets.
#pragma once

#include <cmath>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "base/matrix.h"
#include "codec/read.h"
#include "color/space.h"
#include "image/raster.h"
#include "image/resize.h"
#include "record/photo.h"

namespace samelight::measure {

// A photograph under build/assets, at most 2048 px; empty when it is not there.
inline image::RgbF ReadAsset(const std::string& name) {
  codec::ReadOptions options;
  options.at_least_long_side_px = 2048;
  Result<codec::Picture> picture =
      codec::ReadPicture(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / name, options);
  return picture ? image::ShrinkTo(picture->pixels, 2048) : image::RgbF();
}

// sRGB code values to linear BT.2020.
inline Vec3 Rec2020FromSrgb8(int r, int g, int b) {
  const auto decode = [](int v) { return color::Decode(color::Space::kSrgb, v / 255.0); };
  return Mul(color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb),
             Vec3{decode(r), decode(g), decode(b)});
}

// Noise in -1..1 that is the same on every machine (an integer hash, SplitMix64's finisher).
inline float Noise(int x, int y, int seed) {
  std::uint64_t v = (static_cast<std::uint64_t>(x) << 40) ^ (static_cast<std::uint64_t>(y) << 16) ^
                    (static_cast<std::uint64_t>(seed) + 0x9e3779b97f4a7c15ull);
  v = (v ^ (v >> 30)) * 0xbf58476d1ce4e5b9ull;
  v = (v ^ (v >> 27)) * 0x94d049bb133111ebull;
  return static_cast<float>(v >> 40) / static_cast<float>(1 << 23) - 1;
}

inline void Fill(image::RgbF& picture, double left, double top, double right, double bottom,
                 const Vec3& colour, double noise, int seed = 1) {
  const int w = picture.width(), h = picture.height();
  for (int y = static_cast<int>(top * h); y < static_cast<int>(bottom * h); ++y)
    for (int x = static_cast<int>(left * w); x < static_cast<int>(right * w); ++x) {
      const float k = 1 + static_cast<float>(noise) * Noise(x, y, seed);
      for (int c = 0; c < 3; ++c) picture.at(x, y)[c] = static_cast<float>(colour[c]) * k;
    }
}

// Invented: blue sky over a lawn, a white and a dark sheet, two greys, a red door; fine noise. Fractions of
// the picture: sky 0..0.35 high, lawn 0.35..1; white sheet x 0.1..0.3, dark 0.4..0.5, greys 0.55..0.7, red
// 0.75..0.9, y 0.5..0.85.
inline image::RgbF PaintedScene(int width, int height, int seed) {
  image::RgbF p(width, height);
  Fill(p, 0, 0, 1, 1, Rec2020FromSrgb8(92, 118, 62), 0.25, seed);
  Fill(p, 0, 0, 1, 0.35, Rec2020FromSrgb8(120, 165, 225), 0.02, seed);
  Fill(p, 0.1, 0.5, 0.3, 0.85, Rec2020FromSrgb8(230, 230, 230), 0.03, seed);
  Fill(p, 0.4, 0.5, 0.5, 0.85, Rec2020FromSrgb8(30, 30, 32), 0.05, seed);
  Fill(p, 0.55, 0.5, 0.625, 0.85, Rec2020FromSrgb8(120, 120, 120), 0.03, seed);
  Fill(p, 0.625, 0.5, 0.7, 0.85, Rec2020FromSrgb8(168, 168, 168), 0.03, seed);
  Fill(p, 0.75, 0.5, 0.9, 0.85, Rec2020FromSrgb8(160, 40, 36), 0.05, seed);
  return p;
}

inline image::RgbF WithGains(image::RgbF picture, const Vec3& gains) {
  for (std::size_t i = 0; i < picture.pixels(); ++i)
    for (int c = 0; c < 3; ++c) picture.data()[3 * i + c] *= static_cast<float>(gains[c]);
  return picture;
}

// Invented: a film-like picture of a picture: a curve for each layer with its own slope, lifted blacks, soft
// highlights.
inline image::RgbF WithFilmCurve(image::RgbF picture) {
  constexpr double kSlope[3] = {0.92, 0.86, 0.80}, kBlack[3] = {0.010, 0.013, 0.018};
  for (std::size_t i = 0; i < picture.pixels(); ++i)
    for (int c = 0; c < 3; ++c) {
      float& v = picture.data()[3 * i + c];
      const double x = 0.18 * std::pow(std::max(0.0, v / 0.18), kSlope[c]);
      v = static_cast<float>(kBlack[c] + (1 - kBlack[c]) * 1.96 * x / (x + 1.18));
    }
  return picture;
}

inline record::Photo Jpeg(record::Role role = record::Role::kFrame) {
  record::Photo photo;
  photo.role = role;
  photo.encoding = record::Encoding::kJpeg;
  return photo;
}

}  // namespace samelight::measure
