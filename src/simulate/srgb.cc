#include "simulate/srgb.h"

#include <algorithm>
#include <cmath>

#include "color/difference.h"
#include "color/lab.h"
#include "color/space.h"

namespace samelight::simulate {

image::RgbU8 EncodeSrgb(const image::RgbF& srgb_linear) {
  image::RgbU8 out(srgb_linear.width(), srgb_linear.height());
  for (std::size_t i = 0; i < out.data().size(); ++i) {
    const float v = std::clamp(srgb_linear.data()[i], 0.0f, 1.0f);
    const float encoded = v <= 0.0031308f ? 12.92f * v : 1.055f * std::pow(v, 1 / 2.4f) - 0.055f;
    out.data()[i] = static_cast<std::uint8_t>(255 * encoded + 0.5f);
  }
  return out;
}

double MeanDifferenceWhere(const image::RgbF& a, const image::RgbF& b, const image::RgbF& where) {
  const Mat3 xyz_from_srgb = color::XyzFromRgb(color::Space::kSrgb);
  const Vec3 white = color::XyzFromXy(color::kD65);
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t i = 0; i < a.pixels(); ++i) {
    if (!where.empty() && !(where.data()[3 * i] > 0.5f)) continue;
    const auto lab = [&](const image::RgbF& picture) {
      const float* p = picture.data().data() + 3 * i;
      return color::LabFromXyz(Mul(xyz_from_srgb, Vec3{p[0], p[1], p[2]}), white);
    };
    sum += color::Ciede2000(lab(a), lab(b));
    ++count;
  }
  return count < 20 ? -1 : sum / count;
}

double MeanDifference(const image::RgbF& a, const image::RgbF& b) { return MeanDifferenceWhere(a, b, {}); }

}  // namespace samelight::simulate
