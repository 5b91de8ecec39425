// Small tables held in registers. To be included after hwy/highway.h, once per vector target.
// NOLINTBEGIN(llvm-header-guard): included again for each target.
#if defined(SAMELIGHT_RENDER_PICK_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef SAMELIGHT_RENDER_PICK_INL
#undef SAMELIGHT_RENDER_PICK_INL
#else
#define SAMELIGHT_RENDER_PICK_INL
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET != HWY_SCALAR

// Adding this to a whole number of 0..2^22 leaves the number in the low bits.
inline constexpr float kWholeBits = 8388608.0f;

// Element `whole` (a whole number, 0..15) of sixteen floats, per lane. `sixteen` is aligned to 64 bytes.
template <class D>
HWY_INLINE hwy::HWY_NAMESPACE::Vec<D> Pick(D d, const float* HWY_RESTRICT sixteen,
                                           hwy::HWY_NAMESPACE::Vec<D> whole) {
  namespace hn = hwy::HWY_NAMESPACE;
  const hn::RebindToSigned<D> di;
  const auto bits = hn::BitCast(di, hn::Add(whole, hn::Set(d, kWholeBits)));
#if HWY_TARGET == HWY_AVX2
  const auto places = hn::IndicesFromVec(d, hn::And(bits, hn::Set(di, 7)));
  const auto low = hn::TableLookupLanes(hn::Load(d, sixteen), places);
  const auto high = hn::TableLookupLanes(hn::Load(d, sixteen + 8), places);
  return hn::IfThenElse(hn::Ge(whole, hn::Set(d, 8.0f)), high, low);
#elif HWY_TARGET <= HWY_AVX3 && HWY_ARCH_X86
  return hn::TableLookupLanes(hn::Load(d, sixteen), hn::IndicesFromVec(d, hn::And(bits, hn::Set(di, 15))));
#else
  return hn::GatherIndex(d, sixteen, hn::And(bits, hn::Set(di, 15)));
#endif
}

#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#endif
// NOLINTEND(llvm-header-guard)
