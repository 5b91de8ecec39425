#include <algorithm>
#include <cmath>
#include <vector>

#include "color/space.h"
#include "measure/measure.h"
#include "measure/view.h"

namespace samelight::measure {
namespace {

constexpr int kSteps = 1 << 14;

// sRGB code values over linear 0..1, fine enough that the steepest part moves by less than a quarter of a
// code.
const std::vector<std::uint8_t>& CodeTable() {
  static const std::vector<std::uint8_t> table = [] {
    std::vector<std::uint8_t> t(kSteps + 1);
    for (int i = 0; i <= kSteps; ++i)
      t[i] = static_cast<std::uint8_t>(
          std::lround(255 * color::Encode(color::Space::kSrgb, static_cast<double>(i) / kSteps)));
    return t;
  }();
  return table;
}

}  // namespace

image::RgbU8 NeutralRendering(const image::RgbF& linear, bool scene_referred) {
  image::RgbU8 out(linear.width(), linear.height());
  const std::vector<std::uint8_t>& code = CodeTable();
  const Mat3 m = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  const float gain = scene_referred ? static_cast<float>(SceneGain(linear)) : 1.f;
  const float* in = linear.data().data();
  std::uint8_t* to = out.data().data();
  for (std::size_t i = 0; i < linear.pixels(); ++i, in += 3, to += 3)
    for (int c = 0; c < 3; ++c) {
      float v = static_cast<float>(m[c][0]) * in[0] + static_cast<float>(m[c][1]) * in[1] +
                static_cast<float>(m[c][2]) * in[2];
      if (scene_referred) v = SceneCurve(v * gain);
      to[c] = v > 0 ? code[static_cast<std::size_t>(std::min(v, 1.f) * kSteps + 0.5f)] : 0;  // NaN becomes 0
    }
  return out;
}

}  // namespace samelight::measure
