// Files in: the only place where picture files are decoded.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "base/cancel.h"
#include "base/result.h"
#include "image/raster.h"
#include "image/samples.h"
#include "record/photo.h"

namespace samelight::codec {

// Checked against the header before any pixel is decoded.
struct Limits {
  std::uint64_t most_pixels = 400'000'000;
  std::uint64_t most_file_bytes = 4ull << 30;
};

// What a file says about its picture (EXIF, IPTC, XMP), kept to be written into another file (write.h).
// Immutable.
struct Metadata;

struct ReadOptions {
  // 0: full size. Otherwise the decoder may deliver a smaller picture (JPEG at 1/2, 1/4, 1/8, averaged in
  // encoded values; Bayer raw at half, when its long side is still twice this) whose long side is at least
  // this; it is not resized further.
  int at_least_long_side_px = 0;
  // Vignetting, distortion and lateral fringing of raw files where body and lens are known; never for scans,
  // nor for camera JPEG (bodies that correct have done it).
  bool correct_lens = true;
  bool keep_metadata = false;  // for Picture::metadata
  // For a picture that is read once, row by row: Picture::samples instead of Picture::pixels, where the file
  // holds red, green and blue in 8 or 16 bits and its pixels need no neighbours (lens, colour noise). The
  // same values come out of both.
  bool keep_samples = false;
  Limits limits;
  Cancel cancel;
};

// A decoded picture: upright, linear BT.2020, D65. Scene-referred (raw): white level at 1.0 before highlight
// handling; values may exceed 1 and noise around black may lie below 0; mid-grey as exposed; colour noise
// that would be seen is reduced (image/chroma_noise.h), so that all who read the file see the same.
// Display-referred: by the file's profile, relative colorimetric, its white at 1; no NaN or infinity. A raw
// file without a colour matrix, and any other file that names no usable profile, has photo.profile_assumed
// set; photo.profile_name says what was taken.
struct Picture {
  image::RgbF pixels;
  image::Samples samples;  // either these or `pixels`; see ReadOptions::keep_samples
  bool scene_referred = false;
  bool lens_corrected = false;
  record::Photo photo;                       // all facts that the file holds; id and role are the caller's
  std::shared_ptr<const Metadata> metadata;  // empty unless asked for
};

// Memory of pictures that are no longer needed; fresh pages cost more than filling them. Once it has seen
// each kind of file of a size, reading takes no new memory for pixels.
struct Spare {
  image::RgbF linear;
  image::RgbU8 eight;
  image::RgbU16 sixteen;
  void Take(Picture&& picture);
};

// Reads metadata, size and profile only, without reading the whole file. A sidecar beside it ("name.jpg.xmp",
// "name.xmp") outranks its own XMP. Thread safe, never throws. photo.path is `path` as given; photo.hash
// stays empty.
Result<record::Photo> ReadFacts(const std::filesystem::path& path, const Limits& limits = {});

// Decodes. photo.hash is filled from the bytes read (no extra pass). Never throws; a damaged file gives a
// named Error; asked to stop it ends after the library call at work. A truncated JPEG or TIFF whose pixels
// are partly missing is kDamaged. Thread safe.
// `spare`: the new picture takes its memory from there, where it is large enough.
Result<Picture> ReadPicture(const std::filesystem::path& path, const ReadOptions& options = {},
                            Spare* spare = nullptr);

// What ReadPicture keeps as metadata, without decoding. Fails when the file cannot be read. Thread safe.
Result<std::shared_ptr<const Metadata>> KeepMetadata(const std::filesystem::path& path,
                                                     const Limits& limits = {});

// True when the name's ending is one that ReadPicture may know (any case); used to pick files out of a
// folder.
bool LooksLikePicture(const std::filesystem::path& path);

}  // namespace samelight::codec
