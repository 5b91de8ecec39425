#include "render/tolerance.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "color/difference.h"
#include "color/lab.h"
#include "render/lookup.h"

namespace samelight::render {
namespace {

// Three quasi-random numbers in 0..1 for a step, evenly spread (R3 sequence of Roberts 2018; the powers of
// 1/1.2207440846).
Vec3 Spread(int i) {
  constexpr double kTurn[3] = {0.8191725133961645, 0.6710436067037893, 0.5497004779019703};
  Vec3 v{};
  for (int c = 0; c < 3; ++c) v[c] = std::fmod(0.5 + kTurn[c] * (i + 1), 1.0);
  return v;
}

std::vector<float> Probes(bool display_referred) {
  std::vector<float> rgb;
  const double most = display_referred ? 1 : 16;
  const Mat3 from_srgb = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  const auto add = [&](const Vec3& v) {
    for (double c : v) rgb.push_back(static_cast<float>(std::min(c, most)));
  };
  for (int i = 0; i < 200; ++i) {
    const double y = most * std::pow((i + 0.5) / 200, 4);
    add({y, y, y});
  }
  for (int i = 0; i < 200; ++i) {
    const Vec3 v = Spread(i);
    const double y = 0.02 * (i + 0.5) / 200;
    add({y * (0.5 + 0.5 * v[0]), y * (0.5 + 0.5 * v[1]), y * (0.5 + 0.5 * v[2])});
  }
  // Red over green over blue, from dark to light skin (ranges: common practice).
  for (int i = 0; i < 300; ++i) {
    const Vec3 v = Spread(i);
    const double r = std::exp2(-4.5 * v[0]), g = r * (0.42 + 0.36 * v[1]);
    add(Mul(from_srgb, Vec3{r, g, g * (0.5 + 0.4 * v[2])}));
  }
  for (int i = 0; i < 700; ++i) {
    const Vec3 v = Spread(i);
    Vec3 c{};
    for (int k = 0; k < 3; ++k) c[k] = std::pow(v[k], 2.2);
    const double gain = i % 2 == 0 ? 1 : std::exp2((display_referred ? -4.0 : 4.0) * (i % 16) / 16);
    for (double& x : c) x *= gain;
    add(i % 3 == 0 ? c : Mul(from_srgb, c));
  }
  return rgb;
}

Vec3 Lab(color::Space space, const Mat3& rec2020_from_space, Vec3 encoded) {
  for (double& c : encoded) c = color::Decode(space, std::clamp(c, 0.0, 1.0));
  return color::LabFromRec2020(Mul(rec2020_from_space, encoded));
}

}  // namespace

BakeError MeasureBake(const look::Resolved& resolved, color::Space space, const BakedCorrection& baked) {
  static const std::vector<float> kScene = Probes(false), kDisplay = Probes(true);
  const std::vector<float>& rgb = resolved.display_referred ? kDisplay : kScene;
  const std::size_t count = rgb.size() / 3;
  std::vector<float> fast(4 * count);
  Lookup(baked, rgb.data(), count, fast.data());
  const Mat3 back = color::RgbFromRgb(color::Space::kRec2020, space);
  std::vector<double> de(count);
  BakeError error;
  for (std::size_t i = 0; i < count; ++i) {
    const Vec3 exact = Exact(resolved, space, {rgb[3 * i], rgb[3 * i + 1], rgb[3 * i + 2]});
    de[i] = color::Ciede2000(Lab(space, back, {fast[4 * i], fast[4 * i + 1], fast[4 * i + 2]}),
                             Lab(space, back, exact));
    error.mean += de[i] / static_cast<double>(count);
  }
  std::sort(de.begin(), de.end());
  error.p99 = de[count * 99 / 100];
  error.most = de.back();
  return error;
}

BakeError BakeWithin(const look::Resolved& resolved, color::Space space, BakedCorrection& baked) {
  // Stricter than the promise, since few inputs are looked at here.
  constexpr double kMean = 0.04, kP99 = 0.16, kMost = 0.30;
  constexpr int kLargest = 65;
  BakeError error;
  for (int nodes = 33;;) {
    Bake(resolved, space, nodes, baked);
    error = MeasureBake(resolved, space, baked);
    const double excess = std::max({error.mean / kMean, error.p99 / kP99, error.most / kMost});
    if (excess <= 1 || nodes == kLargest) return error;
    // The error falls about with the square of the step: 49 nodes where 2.25 times less will do.
    nodes = nodes == 33 && excess <= 2.25 ? 49 : kLargest;
  }
}

}  // namespace samelight::render
