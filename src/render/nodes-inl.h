// Pixels apart into channels, and nodes of a table together into pixels. To be included after
// hwy/highway.h, once per vector target.
// NOLINTBEGIN(llvm-header-guard): included again for each target.
#if defined(SAMELIGHT_RENDER_NODES_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef SAMELIGHT_RENDER_NODES_INL
#undef SAMELIGHT_RENDER_NODES_INL
#else
#define SAMELIGHT_RENDER_NODES_INL
#endif

HWY_BEFORE_NAMESPACE();
namespace samelight::render {
namespace HWY_NAMESPACE {
#if HWY_TARGET != HWY_SCALAR

// A register of pixels of three floats each, by channel. On x86 two instructions a channel: the vector
// library's own way, made for all sizes of numbers, takes a fifth of the time of a whole look-up.
template <class D, class V>
HWY_INLINE void Apart(D d, const float* HWY_RESTRICT rgb, V& r, V& g, V& b) {
#if HWY_TARGET <= HWY_AVX3 && HWY_ARCH_X86
  const __m512 x = _mm512_loadu_ps(rgb), y = _mm512_loadu_ps(rgb + 16), z = _mm512_loadu_ps(rgb + 32);
  // The first pixels from x and y (16 and more), then those of z behind them.
  const auto channel = [&](__m512i first, __m512i then) HWY_ATTR {
    return _mm512_permutex2var_ps(_mm512_permutex2var_ps(x, first, y), then, z);
  };
  r = V{channel(_mm512_setr_epi32(0, 3, 6, 9, 12, 15, 18, 21, 24, 27, 30, 0, 0, 0, 0, 0),
                _mm512_setr_epi32(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 17, 20, 23, 26, 29))};
  g = V{channel(_mm512_setr_epi32(1, 4, 7, 10, 13, 16, 19, 22, 25, 28, 31, 0, 0, 0, 0, 0),
                _mm512_setr_epi32(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 18, 21, 24, 27, 30))};
  b = V{channel(_mm512_setr_epi32(2, 5, 8, 11, 14, 17, 20, 23, 26, 29, 0, 0, 0, 0, 0, 0),
                _mm512_setr_epi32(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 16, 19, 22, 25, 28, 31))};
  static_cast<void>(d);
#elif HWY_TARGET == HWY_AVX2
  const __m256 x = _mm256_loadu_ps(rgb), y = _mm256_loadu_ps(rgb + 8), z = _mm256_loadu_ps(rgb + 16);
  // A channel's places in the three registers do not meet: it is put together where it stands, then ordered.
  r = V{_mm256_permutevar8x32_ps(_mm256_blend_ps(_mm256_blend_ps(x, y, 0x92), z, 0x24),
                                 _mm256_setr_epi32(0, 3, 6, 1, 4, 7, 2, 5))};
  g = V{_mm256_permutevar8x32_ps(_mm256_blend_ps(_mm256_blend_ps(x, y, 0x24), z, 0x49),
                                 _mm256_setr_epi32(1, 4, 7, 2, 5, 0, 3, 6))};
  b = V{_mm256_permutevar8x32_ps(_mm256_blend_ps(_mm256_blend_ps(x, y, 0x49), z, 0x92),
                                 _mm256_setr_epi32(2, 5, 0, 3, 6, 1, 4, 7))};
  static_cast<void>(d);
#else
  hwy::HWY_NAMESPACE::LoadInterleaved3(d, rgb, r, g, b);
#endif
}

#if HWY_TARGET <= HWY_AVX2 && HWY_ARCH_X86
// The nodes `at` of two or four pixels in one register.
template <class D>
HWY_INLINE hwy::HWY_NAMESPACE::Vec<D> Nodes(D d, const float* HWY_RESTRICT table,
                                            const std::uint32_t* HWY_RESTRICT at) {
  namespace hn = hwy::HWY_NAMESPACE;
  const hn::FixedTag<float, 4> d4;
  const hn::FixedTag<float, 8> d8;
  const auto two = hn::Combine(d8, hn::Load(d4, table + at[1]), hn::Load(d4, table + at[0]));
#if HWY_TARGET <= HWY_AVX3
  return hn::Combine(d, hn::Combine(d8, hn::Load(d4, table + at[3]), hn::Load(d4, table + at[2])), two);
#else
  static_cast<void>(d);
  return two;
#endif
}
#endif

// The four nodes of every pixel of a register, each times its weight: whole pixels of four floats to `rgbx`,
// which has room for the register's. `place`: where the first three nodes begin in `table`, the fourth lies
// `across` behind the first; all on 16-byte boundaries.
template <class D, class V>
HWY_INLINE void Together(D d, const float* HWY_RESTRICT table, std::uint32_t across,
                         const std::uint32_t* HWY_RESTRICT place0, const std::uint32_t* HWY_RESTRICT place1,
                         const std::uint32_t* HWY_RESTRICT place2, V weight0, V weight1, V weight2, V weight3,
                         float* HWY_RESTRICT rgbx) {
  namespace hn = hwy::HWY_NAMESPACE;
#if HWY_TARGET <= HWY_AVX2 && HWY_ARCH_X86
  // Weights need not go through memory.
  const hn::RebindToSigned<D> di;
  const auto quarter = hn::ShiftRight<2>(hn::Iota(di, 0));
#pragma GCC unroll 4
  for (std::size_t part = 0; part < 4; ++part) {
    const std::size_t k = part * (hn::MaxLanes(D()) / 4);
    const auto spread = hn::IndicesFromVec(d, hn::Add(quarter, hn::Set(di, static_cast<std::int32_t>(k))));
    auto v = hn::Mul(Nodes(d, table, place0 + k), hn::TableLookupLanes(weight0, spread));
    v = hn::MulAdd(Nodes(d, table, place1 + k), hn::TableLookupLanes(weight1, spread), v);
    v = hn::MulAdd(Nodes(d, table, place2 + k), hn::TableLookupLanes(weight2, spread), v);
    v = hn::MulAdd(Nodes(d, table + across, place0 + k), hn::TableLookupLanes(weight3, spread), v);
    hn::StoreU(v, d, rgbx + 4 * k);
  }
#else
  const hn::FixedTag<float, 4> d4;
  constexpr std::size_t kMost = HWY_MAX_BYTES / sizeof(float);
  HWY_ALIGN float w[4][kMost];
  hn::Store(weight0, d, w[0]);
  hn::Store(weight1, d, w[1]);
  hn::Store(weight2, d, w[2]);
  hn::Store(weight3, d, w[3]);
#pragma GCC unroll 4
  for (std::size_t k = 0; k < hn::Lanes(d); ++k) {
    const float* HWY_RESTRICT at = table + place0[k];
    auto v = hn::Mul(hn::Load(d4, at), hn::Set(d4, w[0][k]));
    v = hn::MulAdd(hn::Load(d4, table + place1[k]), hn::Set(d4, w[1][k]), v);
    v = hn::MulAdd(hn::Load(d4, table + place2[k]), hn::Set(d4, w[2][k]), v);
    v = hn::MulAdd(hn::Load(d4, at + across), hn::Set(d4, w[3][k]), v);
    hn::StoreU(v, d4, rgbx + 4 * k);
  }
#endif
}

#endif
}  // namespace HWY_NAMESPACE
}  // namespace samelight::render
HWY_AFTER_NAMESPACE();

#endif
// NOLINTEND(llvm-header-guard)
