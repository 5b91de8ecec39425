#include "window/view/swatch.h"

#include <algorithm>

#include "color/lab.h"
#include "color/space.h"

namespace samelight::window {

QColor SwatchOf(const Vec3& lab) {
  static const Mat3 from = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  const Vec3 linear = Mul(from, color::Rec2020FromLab({std::max(35.0, lab[0]), lab[1], lab[2]}));
  const auto code = [](double v) {
    return static_cast<int>(255 * std::clamp(color::Encode(color::Space::kSrgb, std::max(0.0, v)), 0.0, 1.0) +
                            0.5);
  };
  return {code(linear[0]), code(linear[1]), code(linear[2])};
}

}  // namespace samelight::window
