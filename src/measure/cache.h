// Analysis pictures and descriptors on disk, one file per photograph, named by content hash. May be deleted at any time.
#pragma once

#include <filesystem>

#include "base/result.h"
#include "measure/descriptors.h"
#include "measure/measure.h"

namespace samelight::measure {

struct Cached {
  record::Measured measured;
  Analysis analysis;
  Features features;
};

// Pixels are kept as 16-bit floats. Versioned: a file of another version reads as kNotFound.
Status WriteCached(const std::filesystem::path& file, const Cached& cached);
Result<Cached> ReadCached(const std::filesystem::path& file);
// Without pixels, labels and faces.
Result<Cached> ReadCachedFacts(const std::filesystem::path& file);

}  // namespace samelight::measure
