#include "bench/shown.h"

#include <algorithm>
#include <cmath>

#include "color/lab.h"
#include "color/space.h"
#include "image/resize.h"

namespace samelight::bench {
namespace {

constexpr int kSteps = 65535;

// Linear value of each 16-bit code.
const std::vector<float>& DecodeTable() {
  static const std::vector<float> table = [] {
    std::vector<float> t(kSteps + 1);
    for (int i = 0; i <= kSteps; ++i)
      t[i] = static_cast<float>(color::Decode(color::Space::kSrgb, static_cast<double>(i) / kSteps));
    return t;
  }();
  return table;
}

Vec3 ClippedSrgb(const float* rec2020, double gain) {
  static const Mat3 to_srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  Vec3 v = Mul(to_srgb, Vec3{rec2020[0] * gain, rec2020[1] * gain, rec2020[2] * gain});
  for (double& x : v) x = x > 0 ? std::min(x, 1.0) : 0.0;  // NaN too
  return v;
}

void StoreLab(const Vec3& srgb_linear, float* out) {
  static const Mat3 to_xyz = color::XyzFromRgb(color::Space::kSrgb);
  static const Vec3 white = color::XyzFromXy(color::kD65);
  const Vec3 lab = color::LabFromXyz(Mul(to_xyz, srgb_linear), white);
  for (int c = 0; c < 3; ++c) out[c] = static_cast<float>(lab[c]);
}

}  // namespace

image::RgbF ShownSrgb(const image::RgbF& rec2020_linear, double gain) {
  image::RgbF out(rec2020_linear.width(), rec2020_linear.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const Vec3 v = ClippedSrgb(rec2020_linear.data().data() + 3 * i, gain);
    for (int c = 0; c < 3; ++c)
      out.data()[3 * i + c] = static_cast<float>(color::Encode(color::Space::kSrgb, v[c]));
  }
  return out;
}

LabF LabOfShown(const image::RgbF& srgb_encoded) {
  const std::vector<float>& decode = DecodeTable();
  LabF out(srgb_encoded.width(), srgb_encoded.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    Vec3 v;
    for (int c = 0; c < 3; ++c) {
      const float x = srgb_encoded.data()[3 * i + c];
      v[c] = decode[x > 0 ? std::min(static_cast<int>(x * kSteps + 0.5f), kSteps) : 0];
    }
    StoreLab(v, out.data().data() + 3 * i);
  }
  return out;
}

LabF LabOfLinear(const image::RgbF& rec2020_linear) {
  LabF out(rec2020_linear.width(), rec2020_linear.height());
  for (std::size_t i = 0; i < out.pixels(); ++i)
    StoreLab(ClippedSrgb(rec2020_linear.data().data() + 3 * i, 1), out.data().data() + 3 * i);
  return out;
}

image::RgbF ShownOfLab(const LabF& lab) {
  image::RgbF out(lab.width(), lab.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const float* p = lab.data().data() + 3 * i;
    const Vec3 rec2020 = color::Rec2020FromLab({p[0], p[1], p[2]});
    const float linear[3] = {static_cast<float>(rec2020[0]), static_cast<float>(rec2020[1]),
                             static_cast<float>(rec2020[2])};
    const Vec3 v = ClippedSrgb(linear, 1);
    for (int c = 0; c < 3; ++c)
      out.data()[3 * i + c] = static_cast<float>(color::Encode(color::Space::kSrgb, v[c]));
  }
  return out;
}

double MedianLuminance(const image::RgbF& rec2020_linear) {
  std::vector<float> y = image::Luminance(rec2020_linear).data();
  if (y.empty()) return 0;
  std::nth_element(y.begin(), y.begin() + y.size() / 2, y.end());
  return y[y.size() / 2];
}

image::RgbF Untouched(const image::RgbF& rec2020_linear, bool scene_referred) {
  if (!scene_referred) return ShownSrgb(rec2020_linear);
  return ShownSrgb(rec2020_linear, 0.18 / std::max(MedianLuminance(rec2020_linear), 1e-6));
}

}  // namespace samelight::bench
