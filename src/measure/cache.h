// Analysis pictures and descriptors on disk, one file per photograph, named by content hash. May be deleted
// at any time.
#pragma once

#include <cstdint>
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

// Pixels are kept as 16-bit floats (IEEE 754 binary16: 11 bits, up to 65504). The file appears whole or not
// at all. Fails as WriteFileWhole does, and with kInvalidArgument when planes or descriptors differ in
// number. Thread safe.
Status WriteCached(const std::filesystem::path& file, const Cached& cached);
// kNotFound: no such file, or one of another version of the program. kDamaged: checksum or layout is wrong;
// measure again.
Result<Cached> ReadCached(const std::filesystem::path& file);
// Without pixels, labels and skin planes; reads and checks only the first part of the file.
Result<Cached> ReadCachedFacts(const std::filesystem::path& file);

// Of the files; raised when a picture would be measured or described differently.
std::uint32_t CacheVersion();

}  // namespace samelight::measure
