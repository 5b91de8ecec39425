#include "render/sharpen.h"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "render/sharpen.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#ifndef SAMELIGHT_RENDER_SHARPEN_ONCE
#define SAMELIGHT_RENDER_SHARPEN_ONCE
namespace samelight::render {
namespace {
constexpr float kRed = 0.2126f, kGreen = 0.7152f, kBlue = 0.0722f;
// exp(-k^2 / 2), divided by the sum over -3..3.
constexpr float kTaps[kSharpenReach + 1] = {0.39905028f, 0.24203623f, 0.05400558f, 0.00443305f};
constexpr float kLimit = 0.1f;
// Longest row that is handled at once.
constexpr std::size_t kMostColumns = 512;
}  // namespace
}  // namespace samelight::render
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;
using F = hn::ScalableTag<float>;

void Luma(const float* HWY_RESTRICT rgbx, std::size_t count, float* HWY_RESTRICT luma) {
  std::size_t i = 0;
#if HWY_TARGET != HWY_SCALAR
  const F d;
  for (; i + hn::Lanes(d) <= count; i += hn::Lanes(d)) {
    hn::Vec<F> r, g, b, x;
    hn::LoadInterleaved4(d, rgbx + 4 * i, r, g, b, x);
    const auto y = hn::MulAdd(g, hn::Set(d, kGreen), hn::Mul(r, hn::Set(d, kRed)));
    hn::StoreU(hn::MulAdd(b, hn::Set(d, kBlue), y), d, luma + i);
  }
#endif
  for (; i < count; ++i) {
    const float* p = rgbx + 4 * i;
    luma[i] = std::fma(p[2], kBlue, std::fma(p[1], kGreen, p[0] * kRed));
  }
}

// `part`: at most kMostColumns pixels.
void Sharpen(const float* const* rows, std::size_t at, std::size_t part, float gain,
             float* HWY_RESTRICT rgbx) {
  constexpr int kR = kSharpenReach;
  const F d;
  const std::size_t lanes = hn::Lanes(d);
  float down[kMostColumns + 2 * kR + HWY_MAX_BYTES / sizeof(float)];
  const std::size_t columns = part + 2 * kR;
  std::size_t i = 0;
  for (; i + lanes <= columns; i += lanes) {
    auto sum = hn::Mul(hn::Set(d, kTaps[0]), hn::LoadU(d, rows[kR] + at + i));
    for (int k = 1; k <= kR; ++k)
      sum =
          hn::MulAdd(hn::Set(d, kTaps[k]),
                     hn::Add(hn::LoadU(d, rows[kR - k] + at + i), hn::LoadU(d, rows[kR + k] + at + i)), sum);
    hn::StoreU(sum, d, down + i);
  }
  for (; i < columns; ++i) {
    float sum = kTaps[0] * rows[kR][at + i];
    for (int k = 1; k <= kR; ++k) sum = std::fma(kTaps[k], rows[kR - k][at + i] + rows[kR + k][at + i], sum);
    down[i] = sum;
  }
  std::size_t x = 0;
#if HWY_TARGET != HWY_SCALAR
  for (; x + lanes <= part; x += lanes) {
    const float* m = down + x + kR;
    auto blurred = hn::Mul(hn::Set(d, kTaps[0]), hn::LoadU(d, m));
    for (int k = 1; k <= kR; ++k)
      blurred = hn::MulAdd(hn::Set(d, kTaps[k]), hn::Add(hn::LoadU(d, m - k), hn::LoadU(d, m + k)), blurred);
    auto detail = hn::Sub(hn::LoadU(d, rows[kR] + at + x + kR), blurred);
    detail = hn::Mul(hn::Min(hn::Max(detail, hn::Set(d, -kLimit)), hn::Set(d, kLimit)), hn::Set(d, gain));
    hn::Vec<F> r, g, b, rest;
    hn::LoadInterleaved4(d, rgbx + 4 * x, r, g, b, rest);
    hn::StoreInterleaved4(hn::Add(r, detail), hn::Add(g, detail), hn::Add(b, detail), rest, d, rgbx + 4 * x);
  }
#endif
  for (; x < part; ++x) {
    const float* m = down + x + kR;
    float blurred = kTaps[0] * m[0];
    for (int k = 1; k <= kR; ++k) blurred = std::fma(kTaps[k], m[-k] + m[k], blurred);
    const float detail = std::clamp(rows[kR][at + x + kR] - blurred, -kLimit, kLimit) * gain;
    float* p = rgbx + 4 * x;
    for (int c = 0; c < 3; ++c) p[c] += detail;
  }
}

}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::render {

HWY_EXPORT(Luma);
HWY_EXPORT(Sharpen);

void LumaRow(const float* rgbx, std::size_t count, float* luma) {
  HWY_DYNAMIC_DISPATCH(Luma)(rgbx, count, luma);
}

void SharpenRow(const float* const rows[2 * kSharpenReach + 1], std::size_t count, float gain, float* rgbx) {
  for (std::size_t at = 0; at < count; at += kMostColumns)
    HWY_DYNAMIC_DISPATCH(Sharpen)(rows, at, std::min(kMostColumns, count - at), gain, rgbx + 4 * at);
}

}  // namespace samelight::render
#endif
