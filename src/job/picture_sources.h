// Decoded pictures in memory, the coarse ones quickly, the fine ones when they are wanted.
#pragma once

#include <cstdint>
#include <list>
#include <memory>
#include <mutex>

#include "base/cancel.h"
#include "base/result.h"
#include "image/raster.h"
#include "job/book.h"

namespace samelight::job {

struct Source {
  image::RgbF linear;  // linear BT.2020 as decoded
  bool full = false;   // at full size
  bool best = false;   // no finer one can be had from its file
};
using SourcePtr = std::shared_ptr<const Source>;

// Thread safe. Keeps what was used last, within a budget of bytes.
class PictureSources {
 public:
  explicit PictureSources(std::uint64_t budget_bytes) : budget_(budget_bytes) {}

  // The best that is in memory, at least the analysis picture of the cache (tens of ms). kNotFound when the
  // photograph was neither measured nor decoded yet.
  Result<SourcePtr> AtHand(const Book& book, const record::Photo& photo);
  // At least `long_side_px` (0: full size), decoded from the file if it has to be.
  Result<SourcePtr> Decoded(const Book& book, const record::Photo& photo, int long_side_px,
                            const Cancel& cancel);
  void Clear();

 private:
  struct Entry {
    std::string key;
    SourcePtr source;
  };
  SourcePtr Find(const std::string& key, int long_side_px);
  void Keep(const std::string& key, SourcePtr source);
  const std::uint64_t budget_;
  std::mutex mutex_;
  std::list<Entry> entries_;  // used last first; one per photograph
  std::uint64_t bytes_ = 0;
};

// Paths of a book's session.
std::filesystem::path CacheFolderOf(const Book& book);
std::filesystem::path FileOf(const Book& book, const record::Photo& photo);

}  // namespace samelight::job
