// Files in: the only place where picture files are decoded.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>

#include "base/cancel.h"
#include "base/result.h"
#include "image/raster.h"
#include "record/photo.h"

namespace samelight::codec {

// Checked against the header before any pixel is decoded.
struct Limits {
  std::uint64_t most_pixels = 400'000'000;
  std::uint64_t most_file_bytes = 4ull << 30;
};

struct ReadOptions {
  // 0: full size. Otherwise the decoder may deliver a smaller picture (JPEG at 1/2, 1/4, 1/8; raw at half)
  // whose long side is at least this; it is not resized further.
  int at_least_long_side_px = 0;
  bool correct_lens =
      true;  // vignetting, distortion, lateral fringing where the lens is known; never for scans
  Limits limits;
  Cancel cancel;
};

// A decoded picture: upright, linear BT.2020, D65. Scene-referred (raw): white level at 1.0 before highlight
// handling, values may exceed 1; mid-grey as exposed. Display-referred: 0..1 by the file's profile.
struct Picture {
  image::RgbF pixels;
  bool scene_referred = false;
  bool lens_corrected = false;
  record::Photo photo;  // all facts that the file holds; id and role are the caller's
};

// Reads metadata, size and profile only. photo.path is `path` as given; photo.hash stays empty.
Result<record::Photo> ReadFacts(const std::filesystem::path& path, const Limits& limits = {});

// Decodes. photo.hash is filled from the bytes read (no extra pass). Never throws; a damaged file gives a
// named Error. A truncated JPEG or TIFF whose pixels are partly missing is kDamaged. Thread safe.
Result<Picture> ReadPicture(const std::filesystem::path& path, const ReadOptions& options = {});

// True when the name's ending is one that ReadPicture may know (any case); used to pick files out of a
// folder.
bool LooksLikePicture(const std::filesystem::path& path);

}  // namespace samelight::codec
