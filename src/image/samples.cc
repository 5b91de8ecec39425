#include "image/samples.h"

#include <hwy/cache_control.h>

#include <algorithm>
#include <utility>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "image/samples.cc"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace samelight::image {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;
using F = hn::ScalableTag<float>;
using V = hn::Vec<F>;
using U16 = hn::Rebind<std::uint16_t, F>;

HWY_INLINE V Scaled(F d, hn::Vec<U16> stored, V foot, V factor) {
  const hn::RebindToSigned<F> di;
  return hn::Mul(hn::Sub(hn::ConvertTo(d, hn::PromoteTo(di, stored)), foot), factor);
}

void Values(float foot, float factor, const std::uint16_t* stored, std::size_t count, float* out) {
  const F d;
  const U16 d16;
  const V f = hn::Set(d, foot), s = hn::Set(d, factor);
  std::size_t i = 0;
  for (; i + hn::Lanes(d) <= count; i += hn::Lanes(d))
    hn::StoreU(Scaled(d, hn::LoadU(d16, stored + i), f, s), d, out + i);
  for (; i < count; ++i) out[i] = (static_cast<float>(stored[i]) - foot) * factor;
}

// Whole pixels with a matrix.
void Mixed(float foot, float factor, const float (*m)[3], const std::uint16_t* stored, std::size_t count,
           float* out) {
  const F d;
  const U16 d16;
  constexpr std::size_t kMost = HWY_MAX_BYTES / sizeof(float);
  HWY_ALIGN std::uint16_t tail_in[3 * kMost] = {};
  HWY_ALIGN float tail_out[3 * kMost];
  const V f = hn::Set(d, foot), s = hn::Set(d, factor);
  for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
    const std::size_t here = std::min(hn::Lanes(d), count - i);
    const bool tail = here < hn::Lanes(d);
    if (tail) std::copy_n(stored + 3 * i, 3 * here, tail_in);
    hn::Vec<U16> r16, g16, b16;
    hn::LoadInterleaved3(d16, tail ? tail_in : stored + 3 * i, r16, g16, b16);
    const V r = Scaled(d, r16, f, s), g = Scaled(d, g16, f, s), b = Scaled(d, b16, f, s);
    const auto row = [&](const float* w) HWY_ATTR {
      return hn::MulAdd(b, hn::Set(d, w[2]), hn::MulAdd(g, hn::Set(d, w[1]), hn::Mul(r, hn::Set(d, w[0]))));
    };
    hn::StoreInterleaved3(row(m[0]), row(m[1]), row(m[2]), d, tail ? tail_out : out + 3 * i);
    if (tail) std::copy_n(tail_out, 3 * here, out + 3 * i);
  }
}
}  // namespace HWY_NAMESPACE
}  // namespace samelight::image
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace samelight::image {

HWY_EXPORT(Values);
HWY_EXPORT(Mixed);

void LinearSixteen::operator()(const std::uint16_t* stored, std::size_t count, float* linear) const {
  if (matrix == kIdentity3) {
    HWY_DYNAMIC_DISPATCH(Values)(foot, factor, stored, 3 * count, linear);
    return;
  }
  float m[3][3];
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) m[i][j] = static_cast<float>(matrix[i][j]);
  HWY_DYNAMIC_DISPATCH(Mixed)(foot, factor, m, stored, count, linear);
}

void Source::Expect(int x, int y, int count) const {
  if (y < 0 || y >= height()) return;
  constexpr std::size_t kLine = 64;
  const auto lines = [&](const auto* first) {
    const auto* at = reinterpret_cast<const char*>(first);
    const std::size_t bytes = 3 * sizeof *first * static_cast<std::size_t>(count);
    for (std::size_t i = 0; i < bytes; i += kLine) hwy::Prefetch(at + i);
  };
  if (linear_ != nullptr)
    lines(linear_->at(x, y));
  else if (!samples_->eight.empty())
    lines(samples_->eight.at(x, y));
  else
    lines(samples_->sixteen.at(x, y));
}

Samples SixteenLinear(RgbU16 pixels, const LinearSixteen& how) {
  Samples samples;
  samples.sixteen = std::move(pixels);
  samples.to_linear = [how](const void* stored, std::size_t count, float* linear) {
    how(static_cast<const std::uint16_t*>(stored), count, linear);
  };
  return samples;
}

void MakeLinear(const Source& source, RgbF& out, const Cancel& cancel) {
  out.Resize(source.width(), source.height());
  for (int y = 0; y < source.height() && !cancel.requested(); ++y) {
    const float* row = source.Row(0, y, source.width(), out.row(y));
    if (row != out.row(y)) std::copy_n(row, 3 * static_cast<std::size_t>(source.width()), out.row(y));
  }
}

}  // namespace samelight::image
#endif
