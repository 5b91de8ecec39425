// Colour profiles (ICC.1) by LittleCMS: from a file's samples to the working space, and the profiles that are
// embedded.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"
#include "codec/rows.h"
#include "color/space.h"

namespace samelight::codec {

// Turns rows of samples into linear BT.2020, D65, float, interleaved RGB. Relative colorimetric; the white of
// the profile becomes (1, 1, 1). Matrix and grey profiles may give values outside 0..1 (colours outside
// BT.2020); table profiles are evaluated by LittleCMS in float. Used by one thread.
class Rec2020From {
 public:
  virtual ~Rec2020From() = default;
  virtual void Convert(const std::uint8_t* samples, std::size_t pixels, float* rec2020_linear) const = 0;

  std::string name;      // description of the profile
  bool assumed = false;  // the file names no usable profile: `fallback` was taken
};

// `icc` may be empty, damaged, or of a kind that does not fit the channels: then `fallback` is used (CMYK
// without a profile: inks as plain filters over `fallback`).
std::unique_ptr<Rec2020From> MakeRec2020From(const RowLayout& layout, std::span<const std::uint8_t> icc,
                                             color::Space fallback, bool fallback_is_named);

// Bytes of a version 2.4 matrix profile of `space`. Thread safe, made once.
Result<std::vector<std::uint8_t>> ProfileOf(color::Space space);

}  // namespace samelight::codec
