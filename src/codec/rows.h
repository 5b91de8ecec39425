// What a decoder of display-referred files hands on: rows of samples, and what is needed to make sense of
// them.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <vector>

#include "base/result.h"
#include "codec/read.h"

namespace samelight::codec {

enum class Depth { k8, k16, kFloat };  // unsigned 0..255, unsigned 0..65535, 1.0 is full

// Channels are interleaved: 1 is grey (0 black), 3 is RGB, 4 is CMYK as amounts of ink (0 none).
struct RowLayout {
  int width_px = 0, height_px = 0;
  int channels = 3;
  Depth depth = Depth::k8;
  std::size_t row_bytes() const {
    const std::size_t sample = depth == Depth::k8 ? 1 : depth == Depth::k16 ? 2 : 4;
    return sample * static_cast<std::size_t>(channels) * static_cast<std::size_t>(width_px);
  }
};

// Delivers rows from top to bottom, as stored (orientation is not applied). Used by one thread.
class RowReader {
 public:
  virtual ~RowReader() = default;
  // Fills `count` rows of layout.row_bytes() each. kDamaged when the file does not hold them.
  virtual Status Read(int count, std::uint8_t* rows) = 0;

  RowLayout layout;
  int full_width_px = 0, full_height_px = 0;  // before a reduced decode
  std::vector<std::uint8_t> icc;              // embedded profile, empty if none
  bool srgb_named = false;                    // a mark of the format itself says sRGB
};

using RowReaderPtr = std::unique_ptr<RowReader>;

// `bytes` must outlive the reader. All check the limits before they allocate for pixels.
// A request to stop ends the decoding of a progressive file between its scans; Read() then fails.
Result<RowReaderPtr> OpenJpeg(std::span<const std::uint8_t> bytes, int at_least_long_side_px,
                              const Limits& limits, const Cancel& cancel = {});
Result<RowReaderPtr> OpenTiff(std::span<const std::uint8_t> bytes, const Limits& limits);
// Straight from disk, for its facts: a TIFF's directory often lies at the end.
Result<RowReaderPtr> OpenTiff(const std::filesystem::path& path, const Limits& limits);
Result<RowReaderPtr> OpenPng(std::span<const std::uint8_t> bytes, const Limits& limits);

// kTooLarge when width * height is above the limit, kDamaged when a side is not positive.
Status CheckSize(std::uint64_t width_px, std::uint64_t height_px, const Limits& limits);

}  // namespace samelight::codec
