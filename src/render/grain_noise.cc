#include "render/grain_noise.h"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "render/grain_noise.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "render/pick-inl.h"

#ifndef SAMELIGHT_RENDER_GRAIN_NOISE_ONCE
#define SAMELIGHT_RENDER_GRAIN_NOISE_ONCE
namespace samelight::render {
namespace {

// Two 32-bit keys for one row of one layer (SplitMix64, Steele, Lea, Flood 2014).
struct RowKey {
  std::uint32_t a, b;
};
[[maybe_unused]] inline RowKey KeyOf(std::uint64_t seed, int y, int layer) {
  std::uint64_t z = seed + 0x9e3779b97f4a7c15ull * (4ull * static_cast<std::uint32_t>(y) + layer + 1);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  z ^= z >> 31;
  return {static_cast<std::uint32_t>(z), static_cast<std::uint32_t>(z >> 32)};
}

// Multipliers of a 32-bit mixer with low bias (found by search in the public domain "hash-prospector").
constexpr std::uint32_t kStepX = 0x9e3779b1u, kMixA = 0x21f0aaadu, kMixB = 0x735a2d97u;
// Mean and standard deviation of the sum of four independent bytes.
constexpr float kByteMean = 510.0f, kByteScale = 1.0f / 147.80166f;

[[maybe_unused]] inline float White(RowKey key, int x) {
  std::uint32_t h = static_cast<std::uint32_t>(x) * kStepX + key.a;
  h = (h ^ (h >> 16)) * kMixA;
  h = (h ^ key.b ^ (h >> 15)) * kMixB;
  h ^= h >> 15;
  const std::uint32_t pairs = (h & 0x00ff00ffu) + ((h >> 8) & 0x00ff00ffu);
  return (static_cast<float>((pairs & 0xffffu) + (pairs >> 16)) - kByteMean) * kByteScale;
}

}  // namespace
}  // namespace samelight::render
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET == HWY_SCALAR

void WhiteRow(std::uint32_t a, std::uint32_t b, int x, std::size_t count, float* out) {
  for (std::size_t i = 0; i < count; ++i) out[i] = White({a, b}, x + static_cast<int>(i));
}

void AcrossRow(const Taps& taps, const float* in, std::size_t count, float* out) {
  for (std::size_t i = 0; i < count; ++i) {
    float sum = taps.h[0] * in[i];
    for (int k = 1; k <= taps.radius; ++k) sum = std::fma(taps.h[k], in[i - k] + in[i + k], sum);
    out[i] = sum;
  }
}

void AddRow(const NoiseShape& shape, const float* const* rows, std::size_t stride, std::size_t count,
            float* rgbx) {
  const int middle = shape.radius();
  for (std::size_t i = 0; i < count; ++i) {
    float layer[3];
    for (int c = 0; c < 3; ++c) {
      layer[c] = 0;
      for (int t = 0; t < 2; ++t) {
        const Taps& taps = shape.term[t].down;
        const std::size_t at = (3 * t + c) * stride + i;
        layer[c] = std::fma(taps.h[0], rows[middle][at], layer[c]);
        for (int k = 1; k <= taps.radius; ++k)
          layer[c] = std::fma(taps.h[k], rows[middle - k][at] + rows[middle + k][at], layer[c]);
      }
    }
    for (int c = 0; c < 3; ++c) {
      const auto& m = shape.mix[c];
      const float noise = std::fma(m[2], layer[2], std::fma(m[1], layer[1], m[0] * layer[0]));
      const float v = rgbx[4 * i + c];
      const float place = std::min(std::max(v, 0.0f) * 16.0f, 15.9999f);
      const int piece = static_cast<int>(place);
      const float f = place - static_cast<float>(piece);
      const auto& g = shape.gain[c];
      const float gain =
          std::fma(std::fma(std::fma(g[3][piece], f, g[2][piece]), f, g[1][piece]), f, g[0][piece]);
      rgbx[4 * i + c] = std::fma(noise, gain, v);
    }
  }
}

#else
namespace hn = hwy::HWY_NAMESPACE;
using F = hn::ScalableTag<float>;
using U = hn::RebindToUnsigned<F>;

// All rows are padded so that whole vectors may be read and written.
void WhiteRow(std::uint32_t a, std::uint32_t b, int x, std::size_t count, float* out) {
  const F d;
  const U du;
  const hn::RebindToSigned<F> di;
  const auto low = hn::Set(du, 0x00ff00ffu),
             step = hn::Set(du, static_cast<std::uint32_t>(hn::Lanes(d)) * kStepX);
  auto counter = hn::Add(
      hn::Mul(hn::Add(hn::Iota(du, 0), hn::Set(du, static_cast<std::uint32_t>(x))), hn::Set(du, kStepX)),
      hn::Set(du, a));
  for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
    auto h = counter;
    counter = hn::Add(counter, step);
    h = hn::Mul(hn::Xor(h, hn::ShiftRight<16>(h)), hn::Set(du, kMixA));
    h = hn::Mul(hn::Xor(hn::Xor(h, hn::Set(du, b)), hn::ShiftRight<15>(h)), hn::Set(du, kMixB));
    h = hn::Xor(h, hn::ShiftRight<15>(h));
    const auto pairs = hn::Add(hn::And(h, low), hn::And(hn::ShiftRight<8>(h), low));
    const auto sum = hn::Add(hn::And(pairs, hn::Set(du, 0xffffu)), hn::ShiftRight<16>(pairs));
    const auto value = hn::ConvertTo(d, hn::BitCast(di, sum));
    hn::StoreU(hn::Mul(hn::Sub(value, hn::Set(d, kByteMean)), hn::Set(d, kByteScale)), d, out + i);
  }
}

void AcrossRow(const Taps& taps, const float* HWY_RESTRICT in, std::size_t count, float* HWY_RESTRICT out) {
  const F d;
  for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
    auto sum = hn::Mul(hn::Set(d, taps.h[0]), hn::LoadU(d, in + i));
    for (int k = 1; k <= taps.radius; ++k)
      sum =
          hn::MulAdd(hn::Set(d, taps.h[k]), hn::Add(hn::LoadU(d, in + i - k), hn::LoadU(d, in + i + k)), sum);
    hn::StoreU(sum, d, out + i);
  }
}

HWY_INLINE hn::Vec<F> Down(F d, const Taps& taps, const float* const* rows, int middle, std::size_t at,
                           hn::Vec<F> sum) {
  sum = hn::MulAdd(hn::Set(d, taps.h[0]), hn::LoadU(d, rows[middle] + at), sum);
  for (int k = 1; k <= taps.radius; ++k)
    sum = hn::MulAdd(hn::Set(d, taps.h[k]),
                     hn::Add(hn::LoadU(d, rows[middle - k] + at), hn::LoadU(d, rows[middle + k] + at)), sum);
  return sum;
}

HWY_INLINE hn::Vec<F> Grained(F d, const NoiseShape& shape, int c, hn::Vec<F> n0, hn::Vec<F> n1,
                              hn::Vec<F> n2, hn::Vec<F> v) {
  const auto& m = shape.mix[c];
  auto noise = hn::Mul(hn::Set(d, m[0]), n0);
  noise = hn::MulAdd(hn::Set(d, m[1]), n1, noise);
  noise = hn::MulAdd(hn::Set(d, m[2]), n2, noise);
  const auto place = hn::Min(hn::Mul(hn::Max(v, hn::Zero(d)), hn::Set(d, 16.0f)), hn::Set(d, 15.9999f));
  const auto piece = hn::Floor(place), f = hn::Sub(place, piece);
  const auto& g = shape.gain[c];
  auto gain = hn::MulAdd(Pick(d, g[3].data(), piece), f, Pick(d, g[2].data(), piece));
  gain = hn::MulAdd(gain, f, Pick(d, g[1].data(), piece));
  gain = hn::MulAdd(gain, f, Pick(d, g[0].data(), piece));
  return hn::MulAdd(noise, gain, v);
}

void AddRow(const NoiseShape& shape, const float* const* rows, std::size_t stride, std::size_t count,
            float* rgbx) {
  const F d;
  const std::size_t lanes = hn::Lanes(d);
  const int middle = shape.radius();
  HWY_ALIGN float tail[4 * HWY_MAX_BYTES / sizeof(float)];
  for (std::size_t i = 0; i < count; i += lanes) {
    const auto layer = [&](std::size_t c) HWY_ATTR {
      return Down(d, shape.term[1].down, rows, middle, (3 + c) * stride + i,
                  Down(d, shape.term[0].down, rows, middle, c * stride + i, hn::Zero(d)));
    };
    const hn::Vec<F> n0 = layer(0), n1 = layer(1), n2 = layer(2);
    const std::size_t here = std::min(lanes, count - i);
    float* at = rgbx + 4 * i;
    if (here < lanes) {
      std::fill(tail, tail + 4 * lanes, 0.0f);
      std::copy(at, at + 4 * here, tail);
      at = tail;
    }
    hn::Vec<F> r, g, b, x;
    hn::LoadInterleaved4(d, at, r, g, b, x);
    r = Grained(d, shape, 0, n0, n1, n2, r);
    g = Grained(d, shape, 1, n0, n1, n2, g);
    b = Grained(d, shape, 2, n0, n1, n2, b);
    hn::StoreInterleaved4(r, g, b, x, d, at);
    if (here < lanes) std::copy(tail, tail + 4 * here, rgbx + 4 * i);
  }
}
#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::render {

HWY_EXPORT(WhiteRow);
HWY_EXPORT(AcrossRow);
HWY_EXPORT(AddRow);

namespace {
// Room for whole vectors beyond the end of a row (64 bytes, or longer ones of other machines).
constexpr int kPad = 64;
}  // namespace

void NoiseStrip::Begin(const NoiseShape& shape, std::uint64_t seed, int x0, int width) {
  shape_ = &shape;
  seed_ = seed;
  x0_ = x0;
  width_ = width;
  const int radius = shape.radius();
  depth_ = 2 * radius + 1;
  stride_ = width + kPad;
  white_.resize(static_cast<std::size_t>(width) + 2 * radius + kPad);
  ring_.resize(static_cast<std::size_t>(6) * stride_ * depth_);
  next_ = 0;
  for (int y = -radius; y < radius; ++y) MakeRow(y);
}

void NoiseStrip::MakeRow(int y) {
  const int radius = shape_->radius();
  float* slot = ring_.data() + static_cast<std::size_t>((y + depth_) % depth_) * 6 * stride_;
  for (int c = 0; c < 3; ++c) {
    const RowKey key = KeyOf(seed_, y, c);
    HWY_DYNAMIC_DISPATCH(WhiteRow)
    (key.a, key.b, x0_ - radius, static_cast<std::size_t>(width_) + 2 * radius, white_.data());
    for (int t = 0; t < 2; ++t) HWY_DYNAMIC_DISPATCH(AcrossRow)
    (shape_->term[t].across, white_.data() + radius, width_,
     slot + static_cast<std::size_t>(3 * t + c) * stride_);
  }
}

void NoiseStrip::Add(float* rgbx) {
  const int radius = shape_->radius();
  MakeRow(next_ + radius);
  const float* rows[2 * kMostRadius + 1];
  for (int k = -radius; k <= radius; ++k)
    rows[k + radius] = ring_.data() + static_cast<std::size_t>((next_ + k + depth_) % depth_) * 6 * stride_;
  HWY_DYNAMIC_DISPATCH(AddRow)(*shape_, rows, stride_, width_, rgbx);
  ++next_;
}

float WhiteNoise(std::uint64_t seed, int x, int y, int layer) { return White(KeyOf(seed, y, layer), x); }

}  // namespace samelight::render
#endif
