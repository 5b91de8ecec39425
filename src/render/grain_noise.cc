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
// Mean and standard deviation of the sum of four independent bytes; the scale uses 16 bits well and leaves
// room for adding two.
constexpr int kByteMean = 510, kWhiteShift = 5;
constexpr float kUnit = 1.0f / (147.80166f * (1 << kWhiteShift));

[[maybe_unused]] inline std::int16_t White(RowKey key, int x) {
  std::uint32_t h = static_cast<std::uint32_t>(x) * kStepX + key.a;
  h = (h ^ (h >> 16)) * kMixA;
  h = (h ^ key.b ^ (h >> 15)) * kMixB;
  h ^= h >> 15;
  const std::uint32_t pairs = (h & 0x00ff00ffu) + ((h >> 8) & 0x00ff00ffu);
  const int sum = static_cast<int>((pairs & 0xffffu) + (pairs >> 16));
  return static_cast<std::int16_t>((sum - kByteMean) * (1 << kWhiteShift));
}

}  // namespace
}  // namespace samelight::render
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET == HWY_SCALAR
void WhiteRow(std::uint32_t a, std::uint32_t b, int x, std::size_t count, std::int16_t* out) {
  for (std::size_t i = 0; i < count; ++i) out[i] = White({a, b}, x + static_cast<int>(i));
}

int Part(int value, int tap) { return (value * tap + 16384) >> 15; }

void AcrossRow(const NoiseShape& shape, const std::int16_t* in, std::size_t count, std::size_t stride,
               std::int16_t* out) {
  for (int t = 0; t < 2; ++t) {
    const Taps& taps = shape.term[t].taps;
    for (std::size_t i = 0; i < count; ++i) {
      int sum = Part(in[i], taps.h[0]);
      for (int k = 1; k <= taps.radius; ++k) sum += Part(in[i - k] + in[i + k], taps.h[k]);
      out[t * stride + i] = static_cast<std::int16_t>(sum);
    }
  }
}

void AddRow(const NoiseShape& shape, const std::int16_t* const* rows, std::size_t stride, std::size_t count,
            float* rgbx) {
  const int middle = shape.radius();
  for (std::size_t i = 0; i < count; ++i) {
    float layer[3];
    for (int c = 0; c < 3; ++c) {
      float part[2];
      for (int t = 0; t < 2; ++t) {
        const Taps& taps = shape.term[t].taps;
        const std::size_t at = (2 * c + t) * stride + i;
        int sum = Part(rows[middle][at], taps.h[0]);
        for (int k = 1; k <= taps.radius; ++k)
          sum += Part(rows[middle - k][at] + rows[middle + k][at], taps.h[k]);
        part[t] = static_cast<float>(sum) * (shape.term[t].strength * kUnit);
      }
      layer[c] = part[0] + part[1];
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

using I16 = hn::Repartition<std::int16_t, F>;
using V16 = hn::Vec<I16>;

// All rows are padded so that whole vectors may be read and written.
void WhiteRow(std::uint32_t a, std::uint32_t b, int x, std::size_t count, std::int16_t* out) {
  const U du;
  const hn::RebindToSigned<U> di;
  const hn::Rebind<std::int16_t, U> d16;
  const auto low = hn::Set(du, 0x00ff00ffu);
  const auto step = hn::Set(du, static_cast<std::uint32_t>(hn::Lanes(du)) * kStepX);
  auto counter = hn::Add(
      hn::Mul(hn::Add(hn::Iota(du, 0), hn::Set(du, static_cast<std::uint32_t>(x))), hn::Set(du, kStepX)),
      hn::Set(du, a));
  for (std::size_t i = 0; i < count; i += hn::Lanes(du)) {
    auto h = counter;
    counter = hn::Add(counter, step);
    h = hn::Mul(hn::Xor(h, hn::ShiftRight<16>(h)), hn::Set(du, kMixA));
    h = hn::Mul(hn::Xor(hn::Xor(h, hn::Set(du, b)), hn::ShiftRight<15>(h)), hn::Set(du, kMixB));
    h = hn::Xor(h, hn::ShiftRight<15>(h));
    const auto pairs = hn::Add(hn::And(h, low), hn::And(hn::ShiftRight<8>(h), low));
    const auto sum = hn::Add(hn::And(pairs, hn::Set(du, 0xffffu)), hn::ShiftRight<16>(pairs));
    const auto centred = hn::ShiftLeft<kWhiteShift>(hn::Sub(hn::BitCast(di, sum), hn::Set(di, kByteMean)));
    hn::StoreU(hn::DemoteTo(d16, centred), d16, out + i);
  }
}

// Both terms at once: `out` and `out` + stride.
void AcrossRow(const NoiseShape& shape, const std::int16_t* HWY_RESTRICT in, std::size_t count,
               std::size_t stride, std::int16_t* HWY_RESTRICT out) {
  const I16 d;
  const Taps &a = shape.term[0].taps, &b = shape.term[1].taps;
  for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
    const V16 middle = hn::LoadU(d, in + i);
    V16 sum_a = hn::MulFixedPoint15(middle, hn::Set(d, a.h[0]));
    V16 sum_b = hn::MulFixedPoint15(middle, hn::Set(d, b.h[0]));
    int k = 1;
    for (; k <= a.radius; ++k) {
      const V16 pair = hn::Add(hn::LoadU(d, in + i - k), hn::LoadU(d, in + i + k));
      sum_a = hn::Add(sum_a, hn::MulFixedPoint15(pair, hn::Set(d, a.h[k])));
      sum_b = hn::Add(sum_b, hn::MulFixedPoint15(pair, hn::Set(d, b.h[k])));
    }
    for (; k <= b.radius; ++k) {
      const V16 pair = hn::Add(hn::LoadU(d, in + i - k), hn::LoadU(d, in + i + k));
      sum_b = hn::Add(sum_b, hn::MulFixedPoint15(pair, hn::Set(d, b.h[k])));
    }
    hn::StoreU(sum_a, d, out + i);
    hn::StoreU(sum_b, d, out + stride + i);
  }
}

HWY_INLINE V16 Down(I16 d, const Taps& taps, const std::int16_t* const* rows, int middle, std::size_t at) {
  V16 sum = hn::MulFixedPoint15(hn::LoadU(d, rows[middle] + at), hn::Set(d, taps.h[0]));
  for (int k = 1; k <= taps.radius; ++k) {
    const V16 pair = hn::Add(hn::LoadU(d, rows[middle - k] + at), hn::LoadU(d, rows[middle + k] + at));
    sum = hn::Add(sum, hn::MulFixedPoint15(pair, hn::Set(d, taps.h[k])));
  }
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

HWY_INLINE void AddPart(F d, const NoiseShape& shape, hn::Vec<F> n0, hn::Vec<F> n1, hn::Vec<F> n2,
                        std::size_t here, float* rgbx) {
  const std::size_t lanes = hn::Lanes(d);
  HWY_ALIGN float tail[4 * HWY_MAX_BYTES / sizeof(float)];
  float* at = rgbx;
  if (here < lanes) {
    std::fill(tail, tail + 4 * lanes, 0.0f);
    std::copy(rgbx, rgbx + 4 * here, tail);
    at = tail;
  }
  hn::Vec<F> r, g, b, x;
  hn::LoadInterleaved4(d, at, r, g, b, x);
  r = Grained(d, shape, 0, n0, n1, n2, r);
  g = Grained(d, shape, 1, n0, n1, n2, g);
  b = Grained(d, shape, 2, n0, n1, n2, b);
  hn::StoreInterleaved4(r, g, b, x, d, at);
  if (here < lanes) std::copy(tail, tail + 4 * here, rgbx);
}

void AddRow(const NoiseShape& shape, const std::int16_t* const* rows, std::size_t stride, std::size_t count,
            float* rgbx) {
  const F d;
  const hn::RebindToSigned<F> di;
  const I16 d16;
  const hn::Half<I16> half;
  const std::size_t lanes = hn::Lanes(d);
  const int middle = shape.radius();
  const auto strength_a = hn::Set(d, shape.term[0].strength * kUnit);
  const auto strength_b = hn::Set(d, shape.term[1].strength * kUnit);
  const auto sum = [&](hn::Vec<hn::Half<I16> > a, hn::Vec<hn::Half<I16> > b) HWY_ATTR {
    return hn::Add(hn::Mul(hn::ConvertTo(d, hn::PromoteTo(di, a)), strength_a),
                   hn::Mul(hn::ConvertTo(d, hn::PromoteTo(di, b)), strength_b));
  };
  for (std::size_t i = 0; i < count; i += 2 * lanes) {
    const V16 a0 = Down(d16, shape.term[0].taps, rows, middle, i);
    const V16 b0 = Down(d16, shape.term[1].taps, rows, middle, stride + i);
    const V16 a1 = Down(d16, shape.term[0].taps, rows, middle, 2 * stride + i);
    const V16 b1 = Down(d16, shape.term[1].taps, rows, middle, 3 * stride + i);
    const V16 a2 = Down(d16, shape.term[0].taps, rows, middle, 4 * stride + i);
    const V16 b2 = Down(d16, shape.term[1].taps, rows, middle, 5 * stride + i);
    AddPart(d, shape, sum(hn::LowerHalf(half, a0), hn::LowerHalf(half, b0)),
            sum(hn::LowerHalf(half, a1), hn::LowerHalf(half, b1)),
            sum(hn::LowerHalf(half, a2), hn::LowerHalf(half, b2)), std::min(lanes, count - i), rgbx + 4 * i);
    if (i + lanes >= count) break;
    AddPart(d, shape, sum(hn::UpperHalf(half, a0), hn::UpperHalf(half, b0)),
            sum(hn::UpperHalf(half, a1), hn::UpperHalf(half, b1)),
            sum(hn::UpperHalf(half, a2), hn::UpperHalf(half, b2)), std::min(lanes, count - i - lanes),
            rgbx + 4 * (i + lanes));
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

void NoiseStrip::Begin(const NoiseShape& shape, std::uint64_t seed, int x0, int width, int y0) {
  shape_ = &shape;
  seed_ = seed;
  x0_ = x0;
  width_ = width;
  const int radius = shape.radius();
  depth_ = 2 * radius + 1;
  stride_ = width + kPad;
  white_.resize(static_cast<std::size_t>(width) + 2 * radius + kPad);
  ring_.resize(static_cast<std::size_t>(6) * stride_ * depth_);
  next_ = y0;
  for (int y = y0 - radius; y < y0 + radius; ++y) MakeRow(y);
}

void NoiseStrip::MakeRow(int y) {
  const int radius = shape_->radius();
  std::int16_t* slot = ring_.data() + static_cast<std::size_t>((y + depth_) % depth_) * 6 * stride_;
  for (int c = 0; c < 3; ++c) {
    const RowKey key = KeyOf(seed_, y, c);
    HWY_DYNAMIC_DISPATCH(WhiteRow)
    (key.a, key.b, x0_ - radius, static_cast<std::size_t>(width_) + 2 * radius, white_.data());
    HWY_DYNAMIC_DISPATCH(AcrossRow)
    (*shape_, white_.data() + radius, width_, stride_, slot + static_cast<std::size_t>(2 * c) * stride_);
  }
}

void NoiseStrip::Add(float* rgbx) {
  const int radius = shape_->radius();
  MakeRow(next_ + radius);
  const std::int16_t* rows[2 * kMostRadius + 1];
  for (int k = -radius; k <= radius; ++k)
    rows[k + radius] = ring_.data() + static_cast<std::size_t>((next_ + k + depth_) % depth_) * 6 * stride_;
  HWY_DYNAMIC_DISPATCH(AddRow)(*shape_, rows, stride_, width_, rgbx);
  ++next_;
}

float WhiteNoise(std::uint64_t seed, int x, int y, int layer) {
  return kUnit * White(KeyOf(seed, y, layer), x);
}

}  // namespace samelight::render
#endif
