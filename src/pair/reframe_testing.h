// For tests: pictures seen again by another camera on other film, with the map between both known.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "codec/read.h"
#include "image/raster.h"
#include "image/resize.h"
#include "measure/descriptors.h"
#include "measure/measure.h"
#include "pair/verify.h"

namespace samelight::pair::testing {

// A photograph of the fetched assets at analysis size, linear BT.2020; empty when it is not there.
inline image::RgbF Photograph(const std::filesystem::path& path) {
  codec::ReadOptions options;
  options.at_least_long_side_px = measure::kAnalysisLongSide;
  Result<codec::Picture> picture = codec::ReadPicture(path, options);
  if (!picture) return {};
  return image::ShrinkTo(picture->pixels, measure::kAnalysisLongSide);
}

inline std::vector<std::filesystem::path> PicturesIn(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> out;
  std::error_code ignored;
  for (const auto& entry : std::filesystem::directory_iterator(folder, ignored))
    if (codec::LooksLikePicture(entry.path())) out.push_back(entry.path());
  std::sort(out.begin(), out.end());
  return out;
}

// Numbers that are the same on every machine.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : state_(seed * 0x9E3779B97F4A7C15ull + 1) {}
  double Uniform(double low, double high) {
    state_ ^= state_ << 13;
    state_ ^= state_ >> 7;
    state_ ^= state_ << 17;
    return low + (high - low) * static_cast<double>(state_ >> 11) * 0x1p-53;
  }
  double Normal() { return Uniform(-1, 1) + Uniform(-1, 1) + Uniform(-1, 1); }

 private:
  std::uint64_t state_;
};

// An invented scene: many overlapping ellipses of all sizes, linear BT.2020. Another seed is another scene.
inline image::RgbF Painted(std::uint64_t seed, int width_px = 1024, int height_px = 768) {
  Dice dice(seed + 77);
  image::RgbF out(width_px, height_px);
  std::fill(out.data().begin(), out.data().end(), 0.18f);
  for (int n = 0; n < 2500; ++n) {
    const double size = 150 * std::pow(dice.Uniform(0.06, 1), 3) + 3;
    const double cx = dice.Uniform(0, width_px), cy = dice.Uniform(0, height_px), t = dice.Uniform(0, M_PI);
    const double a = size, b = size * dice.Uniform(0.3, 1), level = std::exp2(dice.Uniform(-5, -0.6));
    const double c = std::cos(t), s = std::sin(t);
    const float rgb[3] = {static_cast<float>(level * dice.Uniform(0.5, 1.4)), static_cast<float>(level),
                          static_cast<float>(level * dice.Uniform(0.5, 1.4))};
    for (int y = std::max(0, static_cast<int>(cy - a)); y < std::min<double>(height_px, cy + a); ++y)
      for (int x = std::max(0, static_cast<int>(cx - a)); x < std::min<double>(width_px, cx + a); ++x) {
        const double u = ((x - cx) * c + (y - cy) * s) / a, v = ((y - cy) * c - (x - cx) * s) / b;
        if (u * u + v * v < 1) std::copy(rgb, rgb + 3, out.at(x, y));
      }
  }
  return out;
}

struct Framing {
  double angle_deg = 0;             // turn, clockwise
  double zoom = 1;                  // above 1: less of the scene
  double shift_x = 0, shift_y = 0;  // of the middle, fractions of the scene
  double lean = 0;                  // perspective
  bool mirrored = false;
  int width_px = 1024, height_px = 683;
};

// scene px (as in View) from view px.
inline Homography SceneFromView(const image::RgbF& scene, const Framing& f) {
  const double t = f.angle_deg * M_PI / 180, c = std::cos(t), s = std::sin(t);
  const bool upright = std::abs(c) > std::abs(s);
  const double fit = std::min(scene.width() / static_cast<double>(upright ? f.width_px : f.height_px),
                              scene.height() / static_cast<double>(upright ? f.height_px : f.width_px)) /
                     f.zoom;
  const double cx = scene.width() * (0.5 + f.shift_x), cy = scene.height() * (0.5 + f.shift_y);
  const double m = f.mirrored ? -1 : 1, ox = f.width_px / 2.0, oy = f.height_px / 2.0;
  const double a = m * c * fit, b = -s * fit, d = m * s * fit, e = c * fit, p = f.lean / f.width_px;
  // x' = [a b; d e] (x - o) + centre, over 1 + p (x - ox).
  const Homography h{a + cx * p, b, cx - (a * ox + b * oy) - cx * p * ox,
                     d + cy * p, e, cy - (d * ox + e * oy) - cy * p * ox,
                     p,          0, 1 - p * ox};
  return h;
}

// The scene through the framing; outside of it black and not `inside`.
inline image::RgbF Seen(const image::RgbF& scene, const Homography& scene_from_view, int width_px,
                        int height_px) {
  image::RgbF out(width_px, height_px);
  for (int y = 0; y < height_px; ++y)
    for (int x = 0; x < width_px; ++x) {
      float* p = out.at(x, y);
      const auto q = Transform(scene_from_view, x + 0.5, y + 0.5);
      const double u = q ? (*q)[0] - 0.5 : -1, v = q ? (*q)[1] - 0.5 : -1;
      if (u < 0 || v < 0 || u >= scene.width() - 1 || v >= scene.height() - 1) {
        p[0] = p[1] = p[2] = 0.002f;
        continue;
      }
      const int ix = static_cast<int>(u), iy = static_cast<int>(v);
      const float fx = static_cast<float>(u - ix), fy = static_cast<float>(v - iy);
      for (int c = 0; c < 3; ++c)
        p[c] = (scene.at(ix, iy)[c] * (1 - fx) + scene.at(ix + 1, iy)[c] * fx) * (1 - fy) +
               (scene.at(ix, iy + 1)[c] * (1 - fx) + scene.at(ix + 1, iy + 1)[c] * fx) * fy;
    }
  return out;
}

struct Rendering {
  double exposure_ev = 0;
  double warmth = 0;  // log2 of red over blue
  double gamma = 1;   // of a film-like curve
  double floor = 0;   // lifted black, linear
  double grain = 0;   // relative, per pixel
  bool black_and_white = false;
};

inline float Rendered(float v, int channel, const Rendering& r) {
  const double gain = std::exp2(r.exposure_ev + (channel == 0 ? 0.5 : channel == 2 ? -0.5 : 0) * r.warmth);
  const double x = std::pow(std::max(0.0, v * gain) / 0.18, r.gamma) * 0.18;
  return static_cast<float>(r.floor + (1 - r.floor) * x / std::pow(1 + std::pow(x, 1.6), 1 / 1.6));
}

inline void Render(image::RgbF& picture, const Rendering& r, std::uint64_t seed) {
  // Tables over the square root, 0..2 linear: thousands of powers instead of millions.
  constexpr int kSteps = 8192;
  std::vector<float> table[3];
  for (int c = 0; c < 3; ++c)
    for (int i = 0; i <= kSteps; ++i) {
      const float root = static_cast<float>(i) / kSteps;
      table[c].push_back(Rendered(2 * root * root, c, r));
    }
  Dice dice(seed);
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    float* p = picture.data().data() + 3 * i;
    if (r.black_and_white) p[0] = p[1] = p[2] = 0.3f * p[0] + 0.6f * p[1] + 0.1f * p[2];
    const float noise = static_cast<float>(1 + r.grain * dice.Normal());
    for (int c = 0; c < 3; ++c)
      p[c] = table[c][std::lround(std::sqrt(std::clamp(p[c] / 2, 0.f, 1.f)) * kSteps)] * noise;
  }
}

// A framing and a rendering such as another camera on other film gives.
inline Framing AnotherFraming(Dice& dice) {
  Framing f;
  f.zoom = dice.Uniform(1.05, 1.7);
  f.angle_deg = dice.Uniform(-5, 5);
  f.shift_x = dice.Uniform(-0.08, 0.08);
  f.shift_y = dice.Uniform(-0.08, 0.08);
  f.lean = dice.Uniform(-0.08, 0.08);
  return f;
}
inline Rendering AnotherRendering(Dice& dice) {
  return {dice.Uniform(-2, 0.5),  dice.Uniform(-1.2, 1.2),  dice.Uniform(0.8, 1.6),
          dice.Uniform(0, 0.015), dice.Uniform(0.01, 0.06), false};
}

inline image::RgbF SeenAgain(const image::RgbF& scene, const Framing& f, const Rendering& r,
                             std::uint64_t seed) {
  image::RgbF out = Seen(scene, SceneFromView(scene, f), f.width_px, f.height_px);
  Render(out, r, seed);
  return out;
}

inline measure::Features FeaturesOf(const image::RgbF& picture) {
  measure::Analysis analysis;
  analysis.pixels = picture;
  return measure::ExtractFeatures(analysis);
}

// Somebody in the picture moved: what lies within `radius` of (x, y) slides by (dx, dy), all in px.
inline image::RgbF Slid(const image::RgbF& in, double x, double y, double radius, double dx, double dy) {
  image::RgbF out = in;
  for (int v = 0; v < in.height(); ++v)
    for (int u = 0; u < in.width(); ++u) {
      const double d2 = ((u - x) * (u - x) + (v - y) * (v - y)) / (radius * radius);
      const double share = std::exp(-d2 * d2);
      const int fu = std::clamp(static_cast<int>(std::lround(u - share * dx)), 0, in.width() - 1);
      const int fv = std::clamp(static_cast<int>(std::lround(v - share * dy)), 0, in.height() - 1);
      std::copy_n(in.at(fu, fv), 3, out.at(u, v));
    }
  return out;
}

}  // namespace samelight::pair::testing
