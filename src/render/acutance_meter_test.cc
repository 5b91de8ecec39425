// Invented pictures whose sharpness is known.
#include "render/acutance_meter.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "render/samples_test.h"
#include "render/sharpen.h"

namespace samelight::render {
namespace {

// Leaves of random size and brightness over each other: edges at every scale, as photographs have.
std::vector<float> Leaves(unsigned seed, int side) {
  Dice dice(seed);
  std::vector<float> v(static_cast<std::size_t>(side) * side, 0.5f);
  for (int i = 0; i < 4000; ++i) {
    const double r = 3 / std::sqrt(dice.Between(0.0015, 1)), x = dice.Between(0, side),
                 y = dice.Between(0, side);
    const float grey = static_cast<float>(dice.Between(0.15, 0.85));
    for (int yy = std::max(0, static_cast<int>(y - r)); yy < std::min<double>(side, y + r); ++yy)
      for (int xx = std::max(0, static_cast<int>(x - r)); xx < std::min<double>(side, x + r); ++xx)
        if (std::hypot(xx - x, yy - y) < r) v[static_cast<std::size_t>(yy) * side + xx] = grey;
  }
  return v;
}

// Through the filter of sharpen.h by `gain`, with noise on top.
image::RgbU8 Picture(const std::vector<float>& leaves, int side, float gain, double noise) {
  constexpr int kR = kSharpenReach;
  const auto at = [&](int x, int y) {
    return leaves[static_cast<std::size_t>(std::clamp(y, 0, side - 1)) * side + std::clamp(x, 0, side - 1)];
  };
  Dice dice(99);
  image::RgbU8 out(side, side);
  std::vector<float> luma[2 * kR + 1], rgbx(4 * static_cast<std::size_t>(side));
  for (auto& row : luma) row.resize(static_cast<std::size_t>(side) + 2 * kR);
  for (int y = 0; y < side; ++y) {
    const float* rows[2 * kR + 1];
    for (int k = -kR; k <= kR; ++k) {
      for (int x = -kR; x < side + kR; ++x) luma[k + kR][static_cast<std::size_t>(x + kR)] = at(x, y + k);
      rows[k + kR] = luma[k + kR].data();
    }
    for (int x = 0; x < side; ++x)
      for (int c = 0; c < 4; ++c) rgbx[4 * static_cast<std::size_t>(x) + c] = at(x, y);
    SharpenRow(rows, static_cast<std::size_t>(side), gain, rgbx.data());
    for (int x = 0; x < side; ++x) {
      const double grain = noise * (dice.Between(-1, 1) + dice.Between(-1, 1));
      for (int c = 0; c < 3; ++c)
        out.at(x, y)[c] = static_cast<std::uint8_t>(
            std::lround(255 * std::clamp(rgbx[4 * static_cast<std::size_t>(x) + c] + grain, 0.0, 1.0)));
    }
  }
  return out;
}

// A scan's grain is not taken for sharpness, whatever the subject. Known to 0.3 only: subjects differ, and noise hides fine detail.
TEST(AcutanceMeterTest, FindsTheGainThroughGrain) {
  constexpr int kSide = 1280;
  // Softened a little first, as a lens would: the limit of the filter's steps is then not met.
  const auto scene = [&](unsigned seed) {
    const std::vector<float> sharp = Leaves(seed, kSide);
    std::vector<float> soft = sharp;
    for (int y = 1; y + 1 < kSide; ++y)
      for (int x = 1; x + 1 < kSide; ++x) {
        float sum = 0;
        for (int j = -1; j <= 1; ++j)
          for (int i = -1; i <= 1; ++i)
            sum += (2 - std::abs(i)) * (2 - std::abs(j)) *
                   sharp[static_cast<std::size_t>(y + j) * kSide + x + i];
        soft[static_cast<std::size_t>(y) * kSide + x] = 0.5f + (sum / 16 - 0.5f) * 0.5f;
      }
    return soft;
  };
  AcutanceMeter frames;
  frames.Add(Picture(scene(1), kSide, 0, 0.004));
  for (const double gain : {-0.6, 0.0, 0.5, 1.0}) {
    AcutanceMeter scans;
    scans.Add(Picture(scene(2), kSide, static_cast<float>(gain), 0.03));
    EXPECT_NEAR(AcutanceGain(scans, frames), gain, 0.3) << gain;  // as measured: it errs to the soft side
  }
}

TEST(AcutanceMeterTest, TooLittleIsNothing) {
  AcutanceMeter none, small;
  small.Add(image::RgbU8(64, 64));
  EXPECT_EQ(AcutanceGain(none, small), 0);
}

}  // namespace
}  // namespace samelight::render
