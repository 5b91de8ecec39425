#include "render/sharpen.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "render/sharpen.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#ifndef SAMELIGHT_RENDER_SHARPEN_ONCE
#define SAMELIGHT_RENDER_SHARPEN_ONCE
namespace samelight::render {
namespace {
constexpr float kRed = 0.2126f, kGreen = 0.7152f, kBlue = 0.0722f;
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
void Sharpen(const SharpenPlan& plan, const float* const* rows, std::size_t at, std::size_t part,
             float* HWY_RESTRICT rgbx) {
  const int reach = plan.reach, around = plan.around;
  const float* taps = plan.taps.data();
  const F d;
  const std::size_t lanes = hn::Lanes(d);
  constexpr std::size_t kRoom = kMostColumns + 2 * kMostSharpenReach + HWY_MAX_BYTES / sizeof(float);
  float down[kRoom], least[kRoom], most[kRoom];
  const std::size_t columns = part + 2 * static_cast<std::size_t>(reach);
  std::size_t i = 0;
  for (; i + lanes <= columns; i += lanes) {
    const auto middle = hn::LoadU(d, rows[reach] + at + i);
    auto sum = hn::Mul(hn::Set(d, taps[0]), middle);
    auto low = middle, high = middle;
    for (int k = 1; k <= reach; ++k) {
      const auto above = hn::LoadU(d, rows[reach - k] + at + i),
                 below = hn::LoadU(d, rows[reach + k] + at + i);
      sum = hn::MulAdd(hn::Set(d, taps[k]), hn::Add(above, below), sum);
      if (k <= around) {
        low = hn::Min(low, hn::Min(above, below));
        high = hn::Max(high, hn::Max(above, below));
      }
    }
    hn::StoreU(sum, d, down + i);
    hn::StoreU(low, d, least + i);
    hn::StoreU(high, d, most + i);
  }
  for (; i < columns; ++i) {
    const float middle = rows[reach][at + i];
    float sum = taps[0] * middle, low = middle, high = middle;
    for (int k = 1; k <= reach; ++k) {
      const float above = rows[reach - k][at + i], below = rows[reach + k][at + i];
      sum = std::fma(taps[k], above + below, sum);
      if (k <= around) {
        low = std::min({low, above, below});
        high = std::max({high, above, below});
      }
    }
    down[i] = sum;
    least[i] = low;
    most[i] = high;
  }
  std::size_t x = 0;
#if HWY_TARGET != HWY_SCALAR
  for (; x + lanes <= part; x += lanes) {
    const std::size_t m = x + static_cast<std::size_t>(reach);
    auto blurred = hn::Mul(hn::Set(d, taps[0]), hn::LoadU(d, down + m));
    auto low = hn::LoadU(d, least + m), high = hn::LoadU(d, most + m);
    for (int k = 1; k <= reach; ++k)
      blurred = hn::MulAdd(hn::Set(d, taps[k]),
                           hn::Add(hn::LoadU(d, down + m - k), hn::LoadU(d, down + m + k)), blurred);
    for (int k = 1; k <= around; ++k) {
      low = hn::Min(low, hn::Min(hn::LoadU(d, least + m - k), hn::LoadU(d, least + m + k)));
      high = hn::Max(high, hn::Max(hn::LoadU(d, most + m - k), hn::LoadU(d, most + m + k)));
    }
    const auto own = hn::LoadU(d, rows[reach] + at + m);
    const auto detail = hn::Sub(own, blurred), squared = hn::Mul(detail, detail);
    const auto share = hn::Div(squared, hn::Add(squared, hn::Set(d, plan.noise_squared)));
    const auto rim = hn::Mul(hn::Sub(high, low), hn::Set(d, plan.rim));
    auto moved = hn::MulAdd(hn::Mul(detail, share), hn::Set(d, plan.gain), own);
    moved = hn::Min(hn::Max(moved, hn::Sub(low, rim)), hn::Add(high, rim));
    const auto change = hn::Sub(moved, own);
    hn::Vec<F> r, g, b, rest;
    hn::LoadInterleaved4(d, rgbx + 4 * x, r, g, b, rest);
    hn::StoreInterleaved4(hn::Add(r, change), hn::Add(g, change), hn::Add(b, change), rest, d, rgbx + 4 * x);
  }
#endif
  for (; x < part; ++x) {
    const std::size_t m = x + static_cast<std::size_t>(reach);
    float blurred = taps[0] * down[m], low = least[m], high = most[m];
    for (int k = 1; k <= reach; ++k) blurred = std::fma(taps[k], down[m - k] + down[m + k], blurred);
    for (int k = 1; k <= around; ++k) {
      low = std::min({low, least[m - k], least[m + k]});
      high = std::max({high, most[m - k], most[m + k]});
    }
    const float own = rows[reach][at + m];
    const float detail = own - blurred, squared = detail * detail;
    const float rim = (high - low) * plan.rim;
    const float moved = std::fma(detail * (squared / (squared + plan.noise_squared)), plan.gain, own);
    const float change = std::min(std::max(moved, low - rim), high + rim) - own;
    float* p = rgbx + 4 * x;
    for (int c = 0; c < 3; ++c) p[c] += change;
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

void SharpenRow(const SharpenPlan& plan, const float* const* rows, std::size_t count, float* rgbx) {
  for (std::size_t at = 0; at < count; at += kMostColumns)
    HWY_DYNAMIC_DISPATCH(Sharpen)(plan, rows, at, std::min(kMostColumns, count - at), rgbx + 4 * at);
}

SharpenPlan PlanSharpening(const Sharpening& sharpening) {
  SharpenPlan plan;
  const double radius = std::clamp(sharpening.radius_px, 1.0, 2.0);
  plan.reach = static_cast<int>(std::ceil(3 * radius));
  plan.around = radius < 1.5 ? 1 : 2;
  double sum = 0;
  const auto bell = [&](int k) { return std::exp(-0.5 * k * k / (radius * radius)); };
  for (int k = -plan.reach; k <= plan.reach; ++k) sum += bell(k);
  for (int k = 0; k <= plan.reach; ++k)
    plan.taps[static_cast<std::size_t>(k)] = static_cast<float>(bell(k) / sum);
  plan.gain = static_cast<float>(sharpening.gain);
  plan.rim = static_cast<float>(sharpening.rim);
  // Never quite zero: nothing is divided by it.
  const double noise = sharpening.gain > 0 ? sharpening.noise : 0;
  plan.noise_squared = static_cast<float>(std::max(1e-20, noise * noise));
  return plan;
}

double SharpenResponse(double gain, double radius_px, double frequency) {
  const SharpenPlan plan = PlanSharpening({gain, radius_px});
  double blurred = plan.taps[0];
  for (int k = 1; k <= plan.reach; ++k)
    blurred += 2 * plan.taps[static_cast<std::size_t>(k)] * std::cos(2 * std::numbers::pi * frequency * k);
  return 1 + gain * (1 - blurred);
}

}  // namespace samelight::render
#endif
