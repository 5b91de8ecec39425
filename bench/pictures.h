// The reduced pictures that everything is compared on.
#pragma once

#include <filesystem>
#include <vector>

#include "base/cancel.h"
#include "base/result.h"
#include "bench/shown.h"
#include "bench/truth.h"

namespace samelight::bench {

inline constexpr int kLongSide = 400;

// A frame at the size of comparison, beside its truth.
struct FramePicture {
  image::RgbF linear;  // as decoded from the full-size file, area-averaged in linear light; linear BT.2020
  bool scene_referred = false;
  Vec3 as_shot{1, 1, 1};  // of a raw file; see record::RawColour
  Mat3 rec2020_from_camera = kIdentity3;
  std::string source;   // record::SourceName
  LabF truth;           // area-averaged the same way
  image::PlaneU8 skin;  // not 0 where there is skin; empty: not labelled
};

struct ScanPicture {
  image::RgbF linear;
  LabF truth;         // without nudge and grain
  bool grey = false;  // black and white
};

struct Pictures {
  std::vector<FramePicture> frames;  // as Truth::frames
  std::vector<ScanPicture> scans;    // as Truth::scans
};

// Decodes everything on all workers. With `cache`, reduced pictures are read from that folder where the
// file's size and time still fit, and written to it where not; without `trust_cache` they are written only.
Result<Pictures> LoadPictures(const Truth& truth, const fs::path& cache, bool trust_cache);

// A picture file, area-averaged to `width` x `height`, linear BT.2020.
Result<image::RgbF> ReadReduced(const fs::path& file, int width, int height);

}  // namespace samelight::bench
