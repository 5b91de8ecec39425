// A small writer of Bayer DNG files (Adobe DNG 1.4 tags on TIFF/EP, ISO 12234-2), for the demo session and
// tests.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "base/matrix.h"
#include "base/result.h"
#include "image/raster.h"
#include "record/photo.h"

namespace samelight::codec {

struct DngSpec {
  std::array<std::uint8_t, 4> pattern{0, 1, 1, 2};  // CFA of the upper left 2x2, row by row; 0 R, 1 G, 2 B
  int black = 512, white = 16383;
  Mat3 camera_from_xyz = kIdentity3;      // ColorMatrix for D65 (CalibrationIlluminant 21)
  std::optional<Mat3> camera_from_xyz_a;  // for standard light A (CalibrationIlluminant 17), written first
  Vec3 as_shot_neutral{1, 1, 1};          // camera values of a neutral, green 1 (AsShotNeutral)
  int orientation = 1;                    // EXIF orientation, 1..8
  record::Capture capture;
};

// `bayer` holds raw counts as one 16-bit plane.
Status WriteDng(const std::filesystem::path& path, const image::Raster<std::uint16_t, 1>& bayer,
                const DngSpec& spec);

}  // namespace samelight::codec
