#include "render/lookup.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "render/lookup.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "render/nodes-inl.h"
#include "render/pick-inl.h"

#ifndef SAMELIGHT_RENDER_LOOKUP_ONCE
#define SAMELIGHT_RENDER_LOOKUP_ONCE
namespace samelight::render {
namespace {
// Larger inputs are clamped, as by the exact evaluation.
constexpr float kMostInput = 1e4f;
// So that the last node is met from below.
[[maybe_unused]] constexpr float kBelowOne = 1 - 1e-6f;
// One table, with or without matrix and shaper.
template <bool kShaped>
void TablePlain(const Baked& baked, const float* rgb, std::size_t count, float* rgbx);
// rgbx: film in, mixed out.
[[maybe_unused]] void MixRowPlain(const BakedCorrection& baked, const float* skin, std::size_t count,
                                  float* rgbx);
}  // namespace
}  // namespace samelight::render
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET == HWY_SCALAR

void LookupRow(const Baked& baked, const float* rgb, std::size_t count, float* rgbx) {
  TablePlain<true>(baked, rgb, count, rgbx);
}
void NodesRow(const Baked& baked, const float* rgb, std::size_t count, float* rgbx) {
  TablePlain<false>(baked, rgb, count, rgbx);
}
void MixRow(const BakedCorrection& baked, const float* skin, std::size_t count, float* rgbx) {
  MixRowPlain(baked, skin, count, rgbx);
}

#else
namespace hn = hwy::HWY_NAMESPACE;

using F = hn::ScalableTag<float>;
using I = hn::RebindToSigned<F>;
using V = hn::Vec<F>;
using VI = hn::Vec<I>;

// Table coordinate of one channel.
HWY_INLINE V Shape(F d, const Baked& b, int channel, V x) {
  const I di;
  const V one = hn::Set(d, 1.0f);
  x = hn::Add(hn::Min(hn::Max(x, hn::Zero(d)), one), hn::Set(d, b.ease[channel]));
  const VI bits = hn::BitCast(di, x);
  const V whole = hn::ConvertTo(d, hn::ShiftRight<23>(bits));
  const V m =
      hn::Sub(hn::BitCast(d, hn::Or(hn::And(bits, hn::Set(di, 0x7fffff)), hn::Set(di, 0x3f800000))), one);
  const V bent = hn::MulAdd(m, hn::NegMulAdd(m, hn::Set(d, 1.0f / 3), hn::Set(d, 4.0f / 3)), whole);
  const V v = hn::MulAdd(bent, hn::Set(d, b.u_scale[channel]), hn::Set(d, b.u_bias[channel]));
  const V piece = hn::Floor(v);
  const V f = hn::Sub(v, piece);
  const auto& s = b.shaper[channel];
  V t = hn::MulAdd(Pick(d, s[3].data(), piece), f, Pick(d, s[2].data(), piece));
  t = hn::MulAdd(t, f, Pick(d, s[1].data(), piece));
  return hn::MulAdd(t, f, Pick(d, s[0].data(), piece));
}

HWY_INLINE V Row(F d, const Baked& b, int channel, V red, V green, V blue) {
  const auto& m = b.matrix[channel];
  const V x = hn::MulAdd(green, hn::Set(d, m[1]), hn::Mul(red, hn::Set(d, m[0])));
  return hn::MulAdd(blue, hn::Set(d, m[2]), x);
}

HWY_INLINE V Sane(F d, V x) {
  const V most = hn::Set(d, kMostInput);
  x = hn::IfThenElseZero(hn::Eq(x, x), x);
  return hn::Min(hn::Max(x, hn::Neg(most)), most);
}

template <bool kShaped>
HWY_INLINE void TableRow(const Baked& baked, const float* rgb, std::size_t count, float* rgbx) {
  const F d;
  const I di;
  const hn::RebindToUnsigned<F> du;
  const std::size_t lanes = hn::Lanes(d);
  constexpr std::size_t kMost = HWY_MAX_BYTES / sizeof(float);
  HWY_ALIGN float tail_in[3 * kMost], tail_out[4 * kMost];
  HWY_ALIGN std::uint32_t place0[kMost], place1[kMost], place2[kMost];
  const std::int32_t n = baked.nodes;
  const VI step_r = hn::Set(di, 4 * n * n), step_g = hn::Set(di, 4 * n), step_b = hn::Set(di, 4);
  const std::uint32_t step_all = 4 * (n * n + n + 1);
  const float* HWY_RESTRICT table = baked.entries();

  for (std::size_t i = 0; i < count; i += lanes) {
    const std::size_t here = std::min(lanes, count - i);
    const float* in = rgb + 3 * i;
    if (here < lanes) {
      std::fill(tail_in, tail_in + 3 * lanes, 0.0f);
      std::copy(in, in + 3 * here, tail_in);
      in = tail_in;
    }
    V r, g, b;
    Apart(d, in, r, g, b);
    // Not a number, infinite or huge: rare, so only looked at when a sum tells.
    const auto sound = hn::Lt(hn::Abs(hn::Add(hn::Add(r, g), b)), hn::Set(d, kMostInput));
    if (HWY_UNLIKELY(!hn::AllTrue(d, sound))) {
      r = hn::IfThenElse(sound, r, Sane(d, r));
      g = hn::IfThenElse(sound, g, Sane(d, g));
      b = hn::IfThenElse(sound, b, Sane(d, b));
    }
    V tr, tg, tb;
    if constexpr (kShaped) {
      tr = Shape(d, baked, 0, Row(d, baked, 0, r, g, b));
      tg = Shape(d, baked, 1, Row(d, baked, 1, r, g, b));
      tb = Shape(d, baked, 2, Row(d, baked, 2, r, g, b));
    } else {
      const V side = hn::Set(d, static_cast<float>(n - 1) * kBelowOne), none = hn::Zero(d),
              one = hn::Set(d, 1.0f);
      tr = hn::Mul(hn::Min(hn::Max(r, none), one), side);
      tg = hn::Mul(hn::Min(hn::Max(g, none), one), side);
      tb = hn::Mul(hn::Min(hn::Max(b, none), one), side);
    }
    const V wr = hn::Floor(tr), wg = hn::Floor(tg), wb = hn::Floor(tb);
    const V fr = hn::Sub(tr, wr), fg = hn::Sub(tg, wg), fb = hn::Sub(tb, wb);
    // Exact: fewer than 2^22 floats; 2^23 on top leaves their number in the low bits.
    const V places = hn::MulAdd(wr, hn::Set(d, static_cast<float>(4 * n * n)),
                                hn::MulAdd(wg, hn::Set(d, static_cast<float>(4 * n)),
                                           hn::MulAdd(wb, hn::Set(d, 4.0f), hn::Set(d, kWholeBits))));
    const VI base = hn::And(hn::BitCast(di, places), hn::Set(di, 0x7fffff));
    const V most = hn::Max(hn::Max(fr, fg), fb), least = hn::Min(hn::Min(fr, fg), fb);
    const V middle = hn::Sub(hn::Add(hn::Add(fr, fg), fb), hn::Add(most, least));
    // First the step along the largest fraction, last the one along the smallest.
    const auto r_most = hn::RebindMask(di, hn::Eq(fr, most)), g_most = hn::RebindMask(di, hn::Eq(fg, most));
    const auto b_least = hn::RebindMask(di, hn::Eq(fb, least)),
               g_least = hn::RebindMask(di, hn::Eq(fg, least));
    const VI first = hn::IfThenElse(r_most, step_r, hn::IfThenElse(g_most, step_g, step_b));
    const VI skipped = hn::IfThenElse(b_least, step_b, hn::IfThenElse(g_least, step_g, step_r));
    hn::Store(hn::BitCast(du, base), du, place0);
    hn::Store(hn::BitCast(du, hn::Add(base, first)), du, place1);
    hn::Store(
        hn::BitCast(du, hn::Sub(hn::Add(base, hn::Set(di, static_cast<std::int32_t>(step_all))), skipped)),
        du, place2);
    Together(d, table, step_all, place0, place1, place2, hn::Sub(hn::Set(d, 1.0f), most),
             hn::Sub(most, middle), hn::Sub(middle, least), least, here < lanes ? tail_out : rgbx + 4 * i);
    if (here < lanes) std::copy(tail_out, tail_out + 4 * here, rgbx + 4 * i);
  }
}

void LookupRow(const Baked& baked, const float* rgb, std::size_t count, float* rgbx) {
  TableRow<true>(baked, rgb, count, rgbx);
}
void NodesRow(const Baked& baked, const float* rgb, std::size_t count, float* rgbx) {
  TableRow<false>(baked, rgb, count, rgbx);
}

// One pixel (four lanes) or more at a time.
using FM = hn::CappedTag<float, 16>;

HWY_INLINE hn::Vec<FM> Pick32(FM d, const float* HWY_RESTRICT values,
                              hn::Vec<hn::RebindToSigned<FM> > index) {
#if HWY_TARGET <= HWY_AVX3 && HWY_ARCH_X86
  const hn::RebindToSigned<FM> di;
  const auto places = hn::IndicesFromVec(d, hn::And(index, hn::Set(di, 15)));
  const auto low = hn::TableLookupLanes(hn::Load(d, values), places);
  const auto high = hn::TableLookupLanes(hn::Load(d, values + 16), places);
  return hn::IfThenElse(hn::RebindMask(d, hn::Gt(index, hn::Set(di, 15))), high, low);
#elif HWY_TARGET == HWY_AVX2
  const hn::RebindToSigned<FM> di;
  const auto places = hn::IndicesFromVec(d, hn::And(index, hn::Set(di, 7)));
  const auto eighth = [&](int i) { return hn::TableLookupLanes(hn::Load(d, values + 8 * i), places); };
  const auto odd = hn::RebindMask(d, hn::Ne(hn::And(index, hn::Set(di, 8)), hn::Zero(di)));
  const auto upper = hn::RebindMask(d, hn::Gt(index, hn::Set(di, 15)));
  return hn::IfThenElse(upper, hn::IfThenElse(odd, eighth(3), eighth(2)),
                        hn::IfThenElse(odd, eighth(1), eighth(0)));
#else
  return hn::GatherIndex(d, values, index);
#endif
}

HWY_INLINE hn::Vec<FM> Encode(FM d, const Encoder& encoder, hn::Vec<FM> root) {
  const hn::RebindToSigned<FM> di;
  const auto v = hn::Mul(root, hn::Set(d, kEncoderPieces / kMostRoot));
  const auto piece = hn::Min(hn::ConvertTo(di, v), hn::Set(di, kEncoderPieces - 1));
  const auto f = hn::Sub(v, hn::ConvertTo(d, piece));
  const auto& p = encoder.piece;
  auto t = hn::MulAdd(Pick32(d, p[3].data(), piece), f, Pick32(d, p[2].data(), piece));
  t = hn::MulAdd(t, f, Pick32(d, p[1].data(), piece));
  return hn::MulAdd(t, f, Pick32(d, p[0].data(), piece));
}

void MixRow(const BakedCorrection& baked, const float* skin, std::size_t count, float* rgbx) {
  const FM d;
  const std::size_t lanes = hn::Lanes(d);
  HWY_ALIGN float tail_film[16], tail_skin[16];
  const auto zero = hn::Zero(d), one = hn::Set(d, 1.0f);
  for (std::size_t i = 0; i < 4 * count; i += lanes) {
    const std::size_t here = std::min(lanes, 4 * count - i);
    float* at = rgbx + i;
    const float* skin_at = skin + i;
    if (here < lanes) {
      std::fill(tail_film, tail_film + 16, 0.0f);
      std::fill(tail_skin, tail_skin + 16, 0.0f);
      std::copy(at, at + here, tail_film);
      std::copy(skin_at, skin_at + here, tail_skin);
      at = tail_film;
      skin_at = tail_skin;
    }
    const auto a = hn::LoadU(d, at), b = hn::LoadU(d, skin_at);
    const auto film = hn::Mul(a, hn::Abs(a));
    const auto share = hn::Min(hn::Max(hn::Broadcast<3>(b), zero), one);
    const auto mixed = hn::MulAdd(share, hn::Sub(hn::Mul(b, hn::Abs(b)), film), film);
    const auto root = hn::Sqrt(hn::Max(mixed, zero));
    hn::StoreU(Encode(d, baked.encoder, root), d, at);
    if (here < lanes) std::copy(tail_film, tail_film + here, rgbx + i);
  }
  for (std::size_t i = 0; i < count; ++i) rgbx[4 * i + 3] = 0;
}
#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::render {
namespace {

float ShapePlain(const Baked& b, int channel, float x) {
  const std::int32_t bits = std::bit_cast<std::int32_t>(std::clamp(x, 0.0f, 1.0f) + b.ease[channel]);
  const float m = std::bit_cast<float>((bits & 0x7fffff) | 0x3f800000) - 1;
  const float u = static_cast<float>(bits >> 23) + m * (4.0f / 3 - m * (1.0f / 3));
  const float v = u * b.u_scale[channel] + b.u_bias[channel];
  const int piece = static_cast<int>(v);
  const float f = v - static_cast<float>(piece);
  const auto& s = b.shaper[channel];
  return ((s[3][piece] * f + s[2][piece]) * f + s[1][piece]) * f + s[0][piece];
}

float SanePlain(float x) { return x == x ? std::clamp(x, -kMostInput, kMostInput) : 0.0f; }

template <bool kShaped>
void TablePlain(const Baked& baked, const float* rgb, std::size_t count, float* rgbx) {
  const int n = baked.nodes;
  const int step[3] = {4 * n * n, 4 * n, 4};
  for (std::size_t i = 0; i < count; ++i) {
    float r = rgb[3 * i], g = rgb[3 * i + 1], b = rgb[3 * i + 2];
    if (!(std::abs(r + g + b) < kMostInput)) {
      r = SanePlain(r);
      g = SanePlain(g);
      b = SanePlain(b);
    }
    float f[3];
    int base = 0, order[3] = {0, 1, 2};
    for (int c = 0; c < 3; ++c) {
      const auto& row = baked.matrix[c];
      const float own = c == 0 ? r : c == 1 ? g : b;
      const float t = kShaped ? ShapePlain(baked, c, row[0] * r + row[1] * g + row[2] * b)
                              : std::clamp(own, 0.0f, 1.0f) * (static_cast<float>(n - 1) * kBelowOne);
      const int whole = static_cast<int>(t);
      f[c] = t - static_cast<float>(whole);
      base += whole * step[c];
    }
    if (f[order[0]] < f[order[1]]) std::swap(order[0], order[1]);
    if (f[order[1]] < f[order[2]]) std::swap(order[1], order[2]);
    if (f[order[0]] < f[order[1]]) std::swap(order[0], order[1]);
    const float* at = baked.entries() + base;
    const float* one = at + step[order[0]];
    const float* two = one + step[order[1]];
    const float* three = two + step[order[2]];
    for (int c = 0; c < 4; ++c) {
      const float v = at[c] * (1 - f[order[0]]) + one[c] * (f[order[0]] - f[order[1]]) +
                      two[c] * (f[order[1]] - f[order[2]]) + three[c] * f[order[2]];
      rgbx[4 * i + c] = v;
    }
  }
}

void MixRowPlain(const BakedCorrection& baked, const float* skin, std::size_t count, float* rgbx) {
  for (std::size_t i = 0; i < count; ++i) {
    const float share = std::clamp(skin[4 * i + 3], 0.0f, 1.0f);
    for (int c = 0; c < 3; ++c) {
      const float a = rgbx[4 * i + c], b = skin[4 * i + c];
      const float film = a * std::abs(a);
      const float mixed = film + share * (b * std::abs(b) - film);
      rgbx[4 * i + c] = EncodeRoot(baked.encoder, std::sqrt(std::max(mixed, 0.0f)));
    }
    rgbx[4 * i + 3] = 0;
  }
}

// Looks up both tables chunk by chunk, so that the second result stays in the first-level cache.
template <class Row, class Mix>
void Both(const BakedCorrection& baked, const float* rgb, std::size_t count, float* rgbx, Row row, Mix mix) {
  if (!baked.blended) return row(baked.film, rgb, count, rgbx);
  constexpr std::size_t kChunk = 256;
  alignas(64) float skin[4 * kChunk];
  for (std::size_t i = 0; i < count; i += kChunk) {
    const std::size_t here = std::min(kChunk, count - i);
    row(baked.film, rgb + 3 * i, here, rgbx + 4 * i);
    row(baked.skin, rgb + 3 * i, here, skin);
    mix(baked, skin, here, rgbx + 4 * i);
  }
}

}  // namespace

HWY_EXPORT(LookupRow);
HWY_EXPORT(NodesRow);
HWY_EXPORT(MixRow);

void Lookup(const BakedCorrection& baked, const float* rgb, std::size_t count, float* rgbx) {
  Both(baked, rgb, count, rgbx, HWY_DYNAMIC_DISPATCH(LookupRow), HWY_DYNAMIC_DISPATCH(MixRow));
}

void LookupTable(const Baked& table, const float* rgb, std::size_t count, float* rgbx) {
  HWY_DYNAMIC_DISPATCH(NodesRow)(table, rgb, count, rgbx);
}

void Merge(BakedCorrection& baked) {
  if (!baked.blended) return;
  const std::vector<float> inputs = NodeInputs(baked.film);
  const std::size_t count = inputs.size() / 3;
  std::vector<float> skin(4 * count);
  HWY_DYNAMIC_DISPATCH(LookupRow)(baked.skin, inputs.data(), count, skin.data());
  MixRowPlain(baked, skin.data(), count, baked.film.entries());
  baked.blended = false;
}

void LookupPlain(const BakedCorrection& baked, const float* rgb, std::size_t count, float* rgbx) {
  Both(baked, rgb, count, rgbx, TablePlain<true>, MixRowPlain);
}

}  // namespace samelight::render
#endif
