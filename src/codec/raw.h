// Camera raw files by LibRaw.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>

#include "base/cancel.h"
#include "base/result.h"
#include "codec/read.h"
#include "image/raster.h"
#include "image/samples.h"

namespace samelight::codec {

struct RawFacts {
  int width_px = 0, height_px = 0;  // as stored, before orientation
  int orientation = 1;              // EXIF numbering, 1..8
  record::RawColour colour;
  bool matrix_known = false;  // false: the sensor's primaries were taken to be those of sRGB
};

struct RawPicture {
  RawFacts facts;
  // White-balanced camera RGB, as stored or upright, through `linear`: 1 is green's white level. Values at
  // and above the common white level are made neutral (raw.cc says how). Values slightly below 0 are noise
  // around black and are kept.
  image::RgbU16 camera;
  image::LinearSixteen linear;  // without a matrix
};

// True when the first bytes are those of a format that LibRaw is trusted with.
bool LooksLikeRaw(std::span<const std::uint8_t> head);

// Header only.
Result<RawFacts> ReadRawFacts(const std::filesystem::path& path, const Limits& limits);
// At half size when that leaves twice `at_least_long_side_px` (0: never). Uses one thread. `upright`: turned
// as the file says, instead of as stored. `buffer` lends its memory.
Result<RawPicture> ReadRaw(std::span<const std::uint8_t> bytes, int at_least_long_side_px,
                           const Limits& limits, const Cancel& cancel, bool upright = false,
                           image::RgbU16 buffer = {});

}  // namespace samelight::codec
