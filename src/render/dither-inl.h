// Rounding of encoded floats to 8 bit, see quantise.h. To be included after hwy/highway.h, once per vector
// target. NOLINTBEGIN(llvm-header-guard): included again for each target.
#if defined(SAMELIGHT_RENDER_DITHER_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef SAMELIGHT_RENDER_DITHER_INL
#undef SAMELIGHT_RENDER_DITHER_INL
#else
#define SAMELIGHT_RENDER_DITHER_INL
#endif

#include "render/turns.h"

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET != HWY_SCALAR

// Whole pixels per step: as many as fit, at most four (16 bytes of 8-bit output).
using Four = hwy::HWY_NAMESPACE::CappedTag<float, 16>;
using FourI = hwy::HWY_NAMESPACE::RebindToSigned<Four>;
using FourU8 = hwy::HWY_NAMESPACE::Rebind<std::uint8_t, Four>;

// Rounds pixels one step after the other, from the one at x, y on.
class Rounder {
 public:
  HWY_ATTR Rounder(bool dither, std::size_t x, std::size_t y) {
    const FourI di;
    const std::size_t lanes = hwy::HWY_NAMESPACE::Lanes(di);
    HWY_ALIGN std::int32_t turn[16];
    for (std::size_t l = 0; l < lanes; ++l)
      turn[l] = static_cast<std::int32_t>(static_cast<std::uint32_t>(x + l / 4) * kTurnX +
                                          static_cast<std::uint32_t>(y) * kTurnY +
                                          static_cast<std::uint32_t>(l % 4) * kTurnChannel);
    phase_ = hwy::HWY_NAMESPACE::Load(di, turn);
    step_ = hwy::HWY_NAMESPACE::Set(
        di, static_cast<std::int32_t>(static_cast<std::uint32_t>(lanes / 4) * kTurnX));
    amount_ = hwy::HWY_NAMESPACE::Set(Four(), dither ? kDither : 0.0f);
  }
  // Three bytes a pixel, in front.
  HWY_INLINE HWY_ATTR hwy::HWY_NAMESPACE::Vec<FourU8> Next(hwy::HWY_NAMESPACE::Vec<Four> v) {
    namespace hn = hwy::HWY_NAMESPACE;
    const Four d;
    const FourU8 d8;
    const auto full = hn::Set(d, 255.0f);
    HWY_ALIGN static constexpr std::uint8_t kDrop[16] = {0, 1, 2, 4, 5, 6, 8, 9, 10, 12, 13, 14, 0, 0, 0, 0};
    v = hn::MulAdd(v, full, hn::Mul(hn::ConvertTo(d, phase_), amount_));
    phase_ = hn::Add(phase_, step_);
#if HWY_TARGET <= HWY_AVX3 && HWY_ARCH_X86
    // The second operand where one is not a number; conversion saturates above.
    const __m512i whole = _mm512_cvtps_epi32(_mm512_max_ps(v.raw, _mm512_setzero_ps()));
    const hn::Vec<FourU8> bytes{_mm512_cvtusepi32_epi8(whole)};
#else
    v = hn::IfThenElseZero(hn::Gt(v, hn::Zero(d)), v);
    const auto bytes = hn::DemoteTo(d8, hn::NearestInt(hn::Min(v, full)));
#endif
    return hn::TableLookupBytes(bytes, hn::Load(d8, kDrop));
  }

 private:
  hwy::HWY_NAMESPACE::Vec<FourI> phase_, step_;
  hwy::HWY_NAMESPACE::Vec<Four> amount_;
};

#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#endif
// NOLINTEND(llvm-header-guard)
