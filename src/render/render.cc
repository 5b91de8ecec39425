#include "render/render.h"

#include <algorithm>
#include <memory>
#include <type_traits>

#include "image/resize.h"
#include "look/evaluate.h"
#include "render/bake.h"
#include "render/lookup.h"
#include "render/quantise.h"
#include "render/tolerance.h"

namespace samelight::render {
namespace {

// Pixels that stay in the first-level cache between look-up and quantising.
constexpr std::size_t kChunk = 512;

// The baked table of the frame at hand; each thread keeps its memory (0.6 to 4.4 MB, twice that
// with skin apart) for the
// next frame.
BakedCorrection& ThreadTable() {
  static thread_local std::unique_ptr<BakedCorrection> baked = std::make_unique<BakedCorrection>();
  return *baked;
}

template <class R>
Result<R> Render(const image::RgbF& linear, const record::Correction& correction,
                 const RenderOptions& options) {
  if (linear.empty()) return Error{ErrorCode::kInvalidArgument, "there are no pixels to render", "", ""};
  const Error cancelled{ErrorCode::kCancelled, "rendering was stopped", "", ""};
  if (options.cancel.requested()) return cancelled;
  BakedCorrection& baked = ThreadTable();
  BakeWithin(look::Resolve(correction), options.space, baked);
  image::RgbF small;
  const image::RgbF* in = &linear;
  if (options.long_side_px > 0 && options.long_side_px < std::max(linear.width(), linear.height())) {
    small = image::ShrinkTo(linear, options.long_side_px);
    in = &small;
  }
  const std::size_t width = in->width();
  R out(in->width(), in->height());
  alignas(64) float rgbx[4 * kChunk];
  for (int y = 0; y < in->height(); ++y) {
    if (options.cancel.requested()) return cancelled;
    for (std::size_t x = 0; x < width; x += kChunk) {
      const std::size_t count = std::min(kChunk, width - x);
      Lookup(baked, in->row(y) + 3 * x, count, rgbx);
      if constexpr (std::is_same_v<R, image::RgbU8>)
        Quantise8(rgbx, count, options.dither, x, y, out.row(y) + 3 * x);
      else
        Quantise16(rgbx, count, out.row(y) + 3 * x);
    }
  }
  return out;
}

}  // namespace

Result<image::RgbU8> Render8(const image::RgbF& linear, const record::Correction& correction,
                             const RenderOptions& options) {
  return Render<image::RgbU8>(linear, correction, options);
}

Result<image::RgbU16> Render16(const image::RgbF& linear, const record::Correction& correction,
                               const RenderOptions& options) {
  return Render<image::RgbU16>(linear, correction, options);
}

}  // namespace samelight::render
