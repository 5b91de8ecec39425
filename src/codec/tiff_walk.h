// The directories of a TIFF-built file (plain TIFF, DNG, most camera raw): where they say their data lies.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <vector>

namespace samelight::codec {

struct TiffPart {
  enum class Kind { kDirectory, kValue, kPixels };
  Kind kind = Kind::kValue;
  std::uint64_t offset = 0, size = 0;
};

// Reads `out.size()` bytes at `offset`; false when they are not all there.
using ReadAt = std::function<bool(std::uint64_t offset, std::span<std::uint8_t> out)>;

struct TiffParts {
  std::vector<TiffPart> parts;
  bool dng = false;  // tag 50706 (DNGVersion) is there
};

// All parts that the directory chain, its sub-directories (tag 330), and the EXIF (34665) and GPS (34853)
// directories name, as claimed: nothing says that a part lies inside the file. Bounded to 64 directories of
// 1000 entries. Empty when the header is not classic TIFF.
TiffParts WalkTiff(const ReadAt& read);

// Whether a part lies within a file of that size.
bool Within(const TiffPart& part, std::uint64_t file_bytes);

}  // namespace samelight::codec
