// Files out: JPEG, TIFF, PNG with profile and metadata, written whole or not at all.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "color/space.h"
#include "image/raster.h"

namespace samelight::codec {

enum class Format { kJpeg, kTiff8, kTiff16, kPng };
enum class Subsampling { k444, k422, k420 };

// Ending with the dot: ".jpg", ".tif", ".png".
const char* Ending(Format format);

struct WriteOptions {
  Format format = Format::kJpeg;
  int quality = 95;  // JPEG 1..100
  Subsampling subsampling = Subsampling::k444;
  color::Space space = color::Space::kSrgb;  // profile to embed; the pixels are already encoded in it
  double dpi = 300;
  // Capture metadata is copied from this file (EXIF, IPTC, XMP of the original; orientation set to 1, sizes
  // updated, stale thumbnail dropped). Empty: none.
  std::filesystem::path metadata_from;
  bool strip_place = false;  // drop GPS and place names
  std::string copyright;     // overrides when not empty
};

// Encodes and writes under `path` by WriteFileWhole. kTiff16 takes 16-bit pixels, the others 8-bit.
Status WritePicture(const std::filesystem::path& path, const image::RgbU8& encoded,
                    const WriteOptions& options);
Status WritePicture(const std::filesystem::path& path, const image::RgbU16& encoded,
                    const WriteOptions& options);

// A JPEG in memory, sRGB, no metadata; for proxies and reports.
Result<std::vector<std::uint8_t>> EncodeJpeg(const image::RgbU8& srgb, int quality);

}  // namespace samelight::codec
