#include "render/roughness.h"

#include <algorithm>
#include <cmath>

#include "render/sharpen.h"

namespace samelight::render {

double Roughness(const Patch& luma) {
  constexpr double kCount = kPatchDown * kPatchAcross;
  // Sums of the squares of the centred coordinates.
  constexpr double kXx = kCount * (kPatchAcross * kPatchAcross - 1) / 12,
                   kYy = kCount * (kPatchDown * kPatchDown - 1) / 12;
  double sum = 0, x1 = 0, y1 = 0, squares = 0;
  for (int y = 0; y < kPatchDown; ++y)
    for (int x = 0; x < kPatchAcross; ++x) {
      const double v = luma[y][x];
      sum += v;
      squares += v * v;
      x1 += v * (x - 0.5 * (kPatchAcross - 1));
      y1 += v * (y - 0.5 * (kPatchDown - 1));
    }
  return std::sqrt(std::max(0.0, squares - sum * sum / kCount - x1 * x1 / kXx - y1 * y1 / kYy) /
                   (kCount - 3));
}

double RoughnessOfGrain(const NoiseShape& shape, NoiseStrip& noise) {
  double squares = 0;
  constexpr int kPatches = 24;
  noise.Begin(shape, 1, 0, kPatchAcross);
  for (int i = 0; i < kPatches; ++i) {
    Patch luma;
    for (int y = 0; y < kPatchDown; ++y) {
      float rgbx[4 * kPatchAcross];
      std::fill(rgbx, rgbx + 4 * kPatchAcross, 0.5f);
      noise.Add(rgbx);
      LumaRow(rgbx, kPatchAcross, luma[y]);
    }
    const double one = Roughness(luma);
    squares += one * one / kPatches;
  }
  return std::sqrt(squares);
}

}  // namespace samelight::render
