// Small pictures on disk: one file that only grows, read at once when a session opens.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <mutex>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/result.h"
#include "image/raster.h"

namespace samelight::preview {

// Entries are JPEG files under a key of 32 hex digits; a later entry of a key replaces an earlier one. The
// file may be deleted at any time; a damaged or cut end is left out. A file more than half of which is
// replaced entries is written anew when it is opened. Thread safe.
class ThumbStore {
 public:
  // Never fails: what cannot be read is an empty store, and what cannot be written is kept in memory alone.
  explicit ThumbStore(std::filesystem::path file);
  // Empty when there is none.
  std::vector<std::uint8_t> Get(const std::string& key) const;
  void Put(const std::string& key, std::vector<std::uint8_t> jpeg);
  std::size_t size() const;

 private:
  void Read();
  const std::filesystem::path file_;
  mutable std::mutex mutex_;
  std::unordered_map<std::string, std::vector<std::uint8_t>> entries_;
};

// Decodes a small JPEG of our own making as it is stored (sRGB). kDamaged, kUnsupported (not three channels).
Result<image::RgbU8> DecodeThumb(const std::vector<std::uint8_t>& jpeg);

}  // namespace samelight::preview
