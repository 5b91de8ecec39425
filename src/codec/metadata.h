// EXIF, IPTC and XMP by Exiv2, in and out. XMP parsing is set up once, under a lock; the library prints
// nothing.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"
#include "codec/write.h"
#include "record/photo.h"

namespace samelight::codec {

struct Facts {
  record::Capture capture;
  std::optional<record::Crop> crop;
  int orientation = 1;      // as stored, 1..8
  bool adobe_rgb = false;   // EXIF InteroperabilityIndex R03 (DCF 2.0 optional colour space)
  bool srgb_named = false;  // EXIF ColorSpace 1
};

// Never fails: what can not be read stays empty. `kept`: everything, for PutMetadata(). Thread safe.
Facts ReadMetadata(std::span<const std::uint8_t> file, std::shared_ptr<const Metadata>* kept = nullptr);
// Reads only the parts of the file that hold metadata, where its format tells them.
Facts ReadMetadata(const std::filesystem::path& file);

// Adds what a sidecar beside `picture` says ("name.xmp" or "name.ending.xmp"); it outranks the file. Thread
// safe.
void ReadSidecar(const std::filesystem::path& picture, Facts& facts);

// Puts what is descriptive in options.metadata, and the options, into `encoded` (a JPEG, TIFF or PNG of
// width x height pixels).
Status PutMetadata(std::vector<std::uint8_t>& encoded, int width_px, int height_px,
                   const WriteOptions& options);

}  // namespace samelight::codec
