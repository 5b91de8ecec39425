// From a decoded frame and its correction to delivered pixels.
#pragma once

#include <cstdint>

#include "base/cancel.h"
#include "base/result.h"
#include "color/space.h"
#include "image/raster.h"
#include "record/correction.h"

namespace samelight::render {

// Grain as measured on the film (grain.h makes it).
struct Grain {
  bool on = false;
  double amount = 0;          // RMS density x 1000 at density 1, 48 um aperture
  double size_um = 0;         // on the film
  double film_width_mm = 56;  // width that the picture had on the film
  std::uint64_t seed = 0;     // by frame
};

struct RenderOptions {
  int long_side_px = 0;  // 0: as decoded
  color::Space space = color::Space::kSrgb;
  Grain grain;
  double acutance = 0;  // gain of detail; 0 leaves it
  bool dither = true;   // to 8 bit: +-0.5 LSB blue-ish noise so that smooth ramps do not band
  Cancel cancel;
};

// `linear`: as codec::ReadPicture gives it. Returns pixels encoded in options.space.
Result<image::RgbU8> Render8(const image::RgbF& linear, const record::Correction& correction,
                             const RenderOptions& options);
Result<image::RgbU16> Render16(const image::RgbF& linear, const record::Correction& correction,
                               const RenderOptions& options);

}  // namespace samelight::render
