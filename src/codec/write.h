// Files out: JPEG, TIFF, PNG with profile and metadata, written whole or not at all.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "base/cancel.h"
#include "base/result.h"
#include "codec/read.h"
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
  // Capture metadata of the original, as ReadPicture kept it (orientation set to 1, sizes updated, stale
  // thumbnail dropped). Empty: none.
  std::shared_ptr<const Metadata> metadata;
  bool strip_place = false;  // drop GPS and place names
  std::string copyright;     // overrides when not empty
  Cancel cancel;
};

// Encodes with profile and metadata, in memory. kTiff16 takes 16-bit pixels, kPng either, the others 8-bit.
// kCancelled after at most one row, or the last pass of the library.
Result<std::vector<std::uint8_t>> EncodePicture(const image::RgbU8& encoded, const WriteOptions& options);
Result<std::vector<std::uint8_t>> EncodePicture(const image::RgbU16& encoded, const WriteOptions& options);

// The same, and writes it under `path` by WriteFileWhole.
Status WritePicture(const std::filesystem::path& path, const image::RgbU8& encoded,
                    const WriteOptions& options);
Status WritePicture(const std::filesystem::path& path, const image::RgbU16& encoded,
                    const WriteOptions& options);

// A JPEG in memory, sRGB, no metadata; for proxies and reports.
Result<std::vector<std::uint8_t>> EncodeJpeg(const image::RgbU8& srgb, int quality);

}  // namespace samelight::codec
