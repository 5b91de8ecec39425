#include "render/quantise.h"

#include <algorithm>
#include <cmath>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "render/quantise.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "render/dither-inl.h"

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET == HWY_SCALAR

void Row8(const float* rgbx, std::size_t count, bool dither, std::size_t x, std::size_t y,
          std::uint8_t* out) {
  Quantise8Plain(rgbx, count, dither, x, y, out);
}
void Row16(const float* rgbx, std::size_t count, std::uint16_t* out) { Quantise16Plain(rgbx, count, out); }

#else
namespace hn = hwy::HWY_NAMESPACE;

void Row8(const float* rgbx, std::size_t count, bool dither, std::size_t x, std::size_t y,
          std::uint8_t* out) {
  const Four d;
  const FourU8 d8;
  const std::size_t pixels = hn::Lanes(d) / 4;
  Rounder rounder(dither, x, y);
  HWY_ALIGN std::uint8_t tail[16];
  HWY_ALIGN float tail_in[16];
  for (std::size_t i = 0; i < count; i += pixels) {
    const std::size_t here = std::min(pixels, count - i);
    const float* in = rgbx + 4 * i;
    if (here < pixels) {
      std::fill(tail_in, tail_in + 16, 0.0f);
      std::copy(in, in + 4 * here, tail_in);
      in = tail_in;
    }
    const auto packed = rounder.Next(hn::LoadU(d, in));
    // A whole store spills pixels/4 bytes that the next step overwrites; not allowed at the end.
    if (i + 2 * pixels <= count) {
      hn::StoreU(packed, d8, out + 3 * i);
    } else {
      hn::Store(packed, d8, tail);
      std::copy(tail, tail + 3 * here, out + 3 * i);
    }
  }
}

void Row16(const float* rgbx, std::size_t count, std::uint16_t* out) {
  const hn::FixedTag<float, 4> d;
  const hn::FixedTag<std::uint16_t, 4> d16;
  const auto full = hn::Set(d, 65535.0f);
  HWY_ALIGN std::uint16_t last[4];
  for (std::size_t i = 0; i < count; ++i) {
    auto v = hn::Mul(hn::LoadU(d, rgbx + 4 * i), full);
    v = hn::IfThenElseZero(hn::Gt(v, hn::Zero(d)), v);
    const auto packed = hn::DemoteTo(d16, hn::NearestInt(hn::Min(v, full)));
    if (i + 1 < count) {
      hn::StoreU(packed, d16, out + 3 * i);
    } else {
      hn::Store(packed, d16, last);
      std::copy(last, last + 3, out + 3 * i);
    }
  }
}
#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::render {

HWY_EXPORT(Row8);
HWY_EXPORT(Row16);

void Quantise8(const float* rgbx, std::size_t count, bool dither, std::size_t x, std::size_t y,
               std::uint8_t* out) {
  HWY_DYNAMIC_DISPATCH(Row8)(rgbx, count, dither, x, y, out);
}
void Quantise16(const float* rgbx, std::size_t count, std::uint16_t* out) {
  HWY_DYNAMIC_DISPATCH(Row16)(rgbx, count, out);
}

void Quantise8Plain(const float* rgbx, std::size_t count, bool dither, std::size_t x, std::size_t y,
                    std::uint8_t* out) {
  for (std::size_t i = 0; i < count; ++i)
    for (int c = 0; c < 3; ++c) {
      const std::uint32_t turn = static_cast<std::uint32_t>(x + i) * kTurnX +
                                 static_cast<std::uint32_t>(y) * kTurnY +
                                 static_cast<std::uint32_t>(c) * kTurnChannel;
      const float noise = static_cast<float>(static_cast<std::int32_t>(turn)) * (dither ? kDither : 0.0f);
      const float v = std::fma(rgbx[4 * i + c], 255.0f, noise);
      out[3 * i + c] = static_cast<std::uint8_t>(std::nearbyint(std::min(v > 0 ? v : 0.0f, 255.0f)));
    }
}

void Quantise16Plain(const float* rgbx, std::size_t count, std::uint16_t* out) {
  for (std::size_t i = 0; i < count; ++i)
    for (int c = 0; c < 3; ++c) {
      const float v = rgbx[4 * i + c] * 65535.0f;
      out[3 * i + c] = static_cast<std::uint16_t>(std::nearbyint(std::min(v > 0 ? v : 0.0f, 65535.0f)));
    }
}

}  // namespace samelight::render
#endif
