#include "render/grain_noise.h"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "render/grain_noise.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

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

// The two terms' strengths as shares in 1/32768 of what they have together.
struct Shares {
  std::int16_t share[2];
  float unit;  // of a sum so weighted, in standard deviations of white noise
};
[[maybe_unused]] inline Shares SharesOf(const NoiseShape& shape) {
  const float a = shape.term[0].strength, b = shape.term[1].strength, all = std::abs(a) + std::abs(b);
  if (!(all > 0)) return {{0, 0}, 0};
  const auto part = [&](float v) { return static_cast<std::int16_t>(std::lround(32767 * v / all)); };
  return {{part(a), part(b)}, all * kUnit};
}
[[maybe_unused]] inline std::int16_t MixShare(float mix) {
  return static_cast<std::int16_t>(std::lround(32767 * std::clamp(mix, -1.0f, 1.0f)));
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

void MixRows(const NoiseShape& shape, std::size_t count, std::size_t stride, std::int16_t* white) {
  for (std::size_t i = 0; i < count; ++i) {
    const int r = white[i], g = white[stride + i], b = white[2 * stride + i];
    for (int c = 0; c < 3; ++c) {
      const auto& m = shape.mix[c];
      white[c * stride + i] = static_cast<std::int16_t>(Part(r, MixShare(m[0])) + Part(g, MixShare(m[1])) +
                                                        Part(b, MixShare(m[2])));
    }
  }
}

void DownRow(const NoiseShape& shape, const std::int16_t* const* rows, std::size_t at, std::size_t count,
             std::size_t stride, std::int16_t* out) {
  const int middle = shape.radius();
  for (int t = 0; t < 2; ++t) {
    const Taps& taps = shape.term[t].taps;
    for (std::size_t i = 0; i < count; ++i) {
      int sum = Part(rows[middle][at + i], taps.h[0]);
      for (int k = 1; k <= taps.radius; ++k)
        sum += Part(rows[middle - k][at + i] + rows[middle + k][at + i], taps.h[k]);
      out[t * stride + i] = static_cast<std::int16_t>(sum);
    }
  }
}

void AddRow(const NoiseShape& shape, const std::int16_t* down, std::size_t stride, std::size_t count,
            float* rgbx) {
  const std::ptrdiff_t radius = shape.radius();
  const Shares shares = SharesOf(shape);
  for (std::size_t i = 0; i < count; ++i)
    for (int c = 0; c < 3; ++c) {
      int noise = 0;
      for (int t = 0; t < 2; ++t) {
        const Taps& taps = shape.term[t].taps;
        const std::int16_t* at = down + (2 * c + t) * stride + i + radius;
        int sum = Part(at[0], taps.h[0]);
        for (int k = 1; k <= taps.radius; ++k) sum += Part(at[-k] + at[k], taps.h[k]);
        noise += Part(sum, shares.share[t]);
      }
      const float v = rgbx[4 * i + c];
      const float place = std::min(std::max(v, 0.0f) * kGainPieces, kGainPieces - 1e-4f);
      const int piece = static_cast<int>(place);
      const float f = place - static_cast<float>(piece);
      const float* g[4];
      for (int p = 0; p < 4; ++p) g[p] = &shape.gain[p][kGainPieces * c + piece];
      const float gain = std::fma(std::fma(std::fma(*g[3], f, *g[2]), f, *g[1]), f, *g[0]);
      rgbx[4 * i + c] = std::fma(static_cast<float>(noise) * shares.unit, gain, v);
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

// The layers' white noise becomes that of the channels, in place: three rows, `stride` apart.
void MixRows(const NoiseShape& shape, std::size_t count, std::size_t stride,
             std::int16_t* HWY_RESTRICT white) {
  const I16 d;
  V16 mix[3][3];
  for (int c = 0; c < 3; ++c)
    for (int k = 0; k < 3; ++k) mix[c][k] = hn::Set(d, MixShare(shape.mix[c][k]));
  for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
    const V16 r = hn::LoadU(d, white + i), g = hn::LoadU(d, white + stride + i),
              b = hn::LoadU(d, white + 2 * stride + i);
    for (int c = 0; c < 3; ++c) {
      const V16 sum = hn::Add(hn::Add(hn::MulFixedPoint15(r, mix[c][0]), hn::MulFixedPoint15(g, mix[c][1])),
                              hn::MulFixedPoint15(b, mix[c][2]));
      hn::StoreU(sum, d, white + c * stride + i);
    }
  }
}

// Along the columns, both terms at once: `out` and `out` + stride.
void DownRow(const NoiseShape& shape, const std::int16_t* const* rows, std::size_t at, std::size_t count,
             std::size_t stride, std::int16_t* HWY_RESTRICT out) {
  const I16 d;
  const Taps &a = shape.term[0].taps, &b = shape.term[1].taps;
  const int middle = shape.radius();
  for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
    const V16 own = hn::LoadU(d, rows[middle] + at + i);
    V16 sum_a = hn::MulFixedPoint15(own, hn::Set(d, a.h[0]));
    V16 sum_b = hn::MulFixedPoint15(own, hn::Set(d, b.h[0]));
    int k = 1;
    for (; k <= a.radius; ++k) {
      const V16 pair =
          hn::Add(hn::LoadU(d, rows[middle - k] + at + i), hn::LoadU(d, rows[middle + k] + at + i));
      sum_a = hn::Add(sum_a, hn::MulFixedPoint15(pair, hn::Set(d, a.h[k])));
      sum_b = hn::Add(sum_b, hn::MulFixedPoint15(pair, hn::Set(d, b.h[k])));
    }
    for (; k <= b.radius; ++k) {
      const V16 pair =
          hn::Add(hn::LoadU(d, rows[middle - k] + at + i), hn::LoadU(d, rows[middle + k] + at + i));
      sum_b = hn::Add(sum_b, hn::MulFixedPoint15(pair, hn::Set(d, b.h[k])));
    }
    hn::StoreU(sum_a, d, out + i);
    hn::StoreU(sum_b, d, out + stride + i);
  }
}

HWY_INLINE V16 Across(I16 d, const Taps& taps, const std::int16_t* HWY_RESTRICT at) {
  V16 sum = hn::MulFixedPoint15(hn::LoadU(d, at), hn::Set(d, taps.h[0]));
  for (std::ptrdiff_t k = 1; k <= taps.radius; ++k)
    sum = hn::Add(sum, hn::MulFixedPoint15(hn::Add(hn::LoadU(d, at - k), hn::LoadU(d, at + k)),
                                           hn::Set(d, taps.h[static_cast<std::size_t>(k)])));
  return sum;
}

HWY_INLINE V16 Noise(I16 d, const NoiseShape& shape, const Shares& shares, const std::int16_t* down,
                     std::size_t stride, std::size_t c, std::size_t i) {
  const std::int16_t* at = down + 2 * c * stride + i + static_cast<std::size_t>(shape.radius());
  const V16 a = Across(d, shape.term[0].taps, at);
  const V16 b = Across(d, shape.term[1].taps, at + stride);
  return hn::Add(hn::MulFixedPoint15(a, hn::Set(d, shares.share[0])),
                 hn::MulFixedPoint15(b, hn::Set(d, shares.share[1])));
}

#if HWY_TARGET <= HWY_AVX3 && HWY_ARCH_X86
// Four whole pixels at a time: a register holds their twelve values, two hold a coefficient of all channels.
void AddRow(const NoiseShape& shape, const std::int16_t* down, std::size_t stride, std::size_t count,
            float* rgbx) {
  const hn::FixedTag<float, 16> d;
  const hn::FixedTag<std::int32_t, 16> di;
  const hn::FixedTag<std::int16_t, 16> half;
  const I16 d16;
  const Shares shares = SharesOf(shape);
  const auto unit = hn::Set(d, shares.unit), pieces = hn::Set(d, static_cast<float>(kGainPieces));
  const auto most = hn::Set(d, kGainPieces - 1e-4f), zero = hn::Zero(d);
  HWY_ALIGN static constexpr std::int32_t kChannel[16] = {0, 8, 16, 24, 0, 8, 16, 24,
                                                          0, 8, 16, 24, 0, 8, 16, 24};
  const auto channel = hn::Load(di, kChannel);
  __m512 low[4], high[4];
  for (int p = 0; p < 4; ++p) {
    // For noise in units of its own, so that it need not be scaled.
    low[p] = hn::Mul(hn::Load(d, shape.gain[p].data()), unit).raw;
    high[p] = hn::Mul(hn::Load(d, shape.gain[p].data() + 16), unit).raw;
  }
  HWY_ALIGN std::int16_t noise[4 * 32];
  const V16 none = hn::Zero(d16);
  for (std::size_t i = 0; i < count; i += hn::Lanes(d16)) {
    hn::StoreInterleaved4(Noise(d16, shape, shares, down, stride, 0, i),
                          Noise(d16, shape, shares, down, stride, 1, i),
                          Noise(d16, shape, shares, down, stride, 2, i), none, d16, noise);
    const std::size_t here = std::min<std::size_t>(hn::Lanes(d16), count - i);
    for (std::size_t k = 0; k < here; k += 4) {
      float* at = rgbx + 4 * (i + k);
      const __mmask16 inside =
          k + 4 <= here ? __mmask16{0xffff} : static_cast<__mmask16>((1u << (4 * (here - k))) - 1);
      const hn::Vec<decltype(d)> v{_mm512_maskz_loadu_ps(inside, at)};
      const auto n = hn::ConvertTo(d, hn::PromoteTo(di, hn::Load(half, noise + 4 * k)));
      const auto place = hn::Min(hn::Mul(hn::Max(v, zero), pieces), most);
      const auto whole = hn::ConvertTo(di, place);
      const auto f = hn::Sub(place, hn::ConvertTo(d, whole));
      const __m512i index = hn::Add(whole, channel).raw;
      const auto pick = [&](int p) HWY_ATTR {
        return hn::Vec<decltype(d)>{_mm512_permutex2var_ps(low[p], index, high[p])};
      };
      auto gain = hn::MulAdd(pick(3), f, pick(2));
      gain = hn::MulAdd(gain, f, pick(1));
      gain = hn::MulAdd(gain, f, pick(0));
      _mm512_mask_storeu_ps(at, inside, hn::MulAdd(n, gain, v).raw);
    }
  }
}
#else
// Element `whole` (a whole number, 0..7) of eight floats, per lane. `eight` is aligned to 32 bytes.
HWY_INLINE hn::Vec<F> PickEight(F d, const float* HWY_RESTRICT eight, hn::Vec<hn::RebindToSigned<F> > whole) {
#if HWY_TARGET == HWY_AVX2
  return hn::TableLookupLanes(hn::Load(d, eight), hn::IndicesFromVec(d, whole));
#else
  return hn::GatherIndex(d, eight, whole);
#endif
}

HWY_INLINE hn::Vec<F> Grained(F d, const NoiseShape& shape, int c, hn::Vec<F> noise, hn::Vec<F> v) {
  const hn::RebindToSigned<F> di;
  const auto place = hn::Min(hn::Mul(hn::Max(v, hn::Zero(d)), hn::Set(d, static_cast<float>(kGainPieces))),
                             hn::Set(d, kGainPieces - 1e-4f));
  const auto whole = hn::ConvertTo(di, place);
  const auto f = hn::Sub(place, hn::ConvertTo(d, whole));
  const auto pick = [&](int p) HWY_ATTR { return PickEight(d, &shape.gain[p][kGainPieces * c], whole); };
  auto gain = hn::MulAdd(pick(3), f, pick(2));
  gain = hn::MulAdd(gain, f, pick(1));
  gain = hn::MulAdd(gain, f, pick(0));
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
  r = Grained(d, shape, 0, n0, r);
  g = Grained(d, shape, 1, n1, g);
  b = Grained(d, shape, 2, n2, b);
  hn::StoreInterleaved4(r, g, b, x, d, at);
  if (here < lanes) std::copy(tail, tail + 4 * here, rgbx);
}

void AddRow(const NoiseShape& shape, const std::int16_t* down, std::size_t stride, std::size_t count,
            float* rgbx) {
  const F d;
  const hn::RebindToSigned<F> di;
  const I16 d16;
  const hn::Half<I16> half;
  const std::size_t lanes = hn::Lanes(d);
  const Shares shares = SharesOf(shape);
  const auto unit = hn::Set(d, shares.unit);
  const auto in_float = [&](hn::Vec<hn::Half<I16> > n)
                            HWY_ATTR { return hn::Mul(hn::ConvertTo(d, hn::PromoteTo(di, n)), unit); };
  for (std::size_t i = 0; i < count; i += 2 * lanes) {
    const V16 n0 = Noise(d16, shape, shares, down, stride, 0, i);
    const V16 n1 = Noise(d16, shape, shares, down, stride, 1, i);
    const V16 n2 = Noise(d16, shape, shares, down, stride, 2, i);
    AddPart(d, shape, in_float(hn::LowerHalf(half, n0)), in_float(hn::LowerHalf(half, n1)),
            in_float(hn::LowerHalf(half, n2)), std::min(lanes, count - i), rgbx + 4 * i);
    if (i + lanes >= count) break;
    AddPart(d, shape, in_float(hn::UpperHalf(half, n0)), in_float(hn::UpperHalf(half, n1)),
            in_float(hn::UpperHalf(half, n2)), std::min(lanes, count - i - lanes), rgbx + 4 * (i + lanes));
  }
}
#endif
#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::render {

HWY_EXPORT(WhiteRow);
HWY_EXPORT(MixRows);
HWY_EXPORT(DownRow);
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
  stride_ = width + 2 * radius + kPad;
  ring_.resize(static_cast<std::size_t>(3) * stride_ * depth_);
  down_.resize(static_cast<std::size_t>(6) * stride_);
  next_ = y0;
  for (int y = y0 - radius; y < y0 + radius; ++y) MakeRow(y);
}

std::int16_t* NoiseStrip::Slot(int y) {
  return ring_.data() +
         static_cast<std::size_t>((y + depth_) % depth_) * 3 * static_cast<std::size_t>(stride_);
}

void NoiseStrip::MakeRow(int y) {
  const int radius = shape_->radius();
  std::int16_t* slot = Slot(y);
  const std::size_t count = static_cast<std::size_t>(width_) + 2 * radius,
                    apart = static_cast<std::size_t>(stride_);
  for (int c = 0; c < 3; ++c) {
    const RowKey key = KeyOf(seed_, y, c);
    HWY_DYNAMIC_DISPATCH(WhiteRow)(key.a, key.b, x0_ - radius, count, slot + c * apart);
  }
  HWY_DYNAMIC_DISPATCH(MixRows)(*shape_, count, apart, slot);
}

void NoiseStrip::Add(float* rgbx) {
  const int radius = shape_->radius();
  MakeRow(next_ + radius);
  const std::int16_t* rows[2 * kMostRadius + 1];
  for (int k = -radius; k <= radius; ++k) rows[k + radius] = Slot(next_ + k);
  const std::size_t count = static_cast<std::size_t>(width_) + 2 * radius,
                    apart = static_cast<std::size_t>(stride_);
  for (std::size_t c = 0; c < 3; ++c)
    HWY_DYNAMIC_DISPATCH(DownRow)(*shape_, rows, c * apart, count, apart, down_.data() + 2 * c * apart);
  HWY_DYNAMIC_DISPATCH(AddRow)(*shape_, down_.data(), apart, width_, rgbx);
  ++next_;
}

float WhiteNoise(std::uint64_t seed, int x, int y, int layer) {
  return kUnit * White(KeyOf(seed, y, layer), x);
}

}  // namespace samelight::render
#endif
