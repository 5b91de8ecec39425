#include "job/picture_sources.h"

#include <fmt/format.h>

#include <algorithm>

#include "codec/read.h"
#include "image/resize.h"
#include "measure/cache.h"

namespace samelight::job {
namespace {

std::uint64_t BytesOf(const Source& source) { return source.linear.pixels() * 3 * sizeof(float); }
// What a picture is kept under: its content, or, as long as nobody has read that, its file as it was found.
std::string KeyOf(const record::Photo& photo) {
  return photo.hash.empty() ? fmt::format("{} {} {}", photo.path, photo.bytes, photo.modified_us)
                            : photo.hash;
}
int LongSide(const image::RgbF& picture) { return std::max(picture.width(), picture.height()); }

}  // namespace

std::filesystem::path CacheFolderOf(const Book& book) {
  return book.file.parent_path() / (book.file.stem().string() + ".cache");
}

std::filesystem::path FileOf(const Book& book, const record::Photo& photo) {
  return (book.file.parent_path() / std::filesystem::path(photo.path)).lexically_normal();
}

SourcePtr PictureSources::Find(const std::string& key, int long_side_px) {
  const std::lock_guard lock(mutex_);
  const auto it =
      std::find_if(entries_.begin(), entries_.end(), [&](const Entry& e) { return e.key == key; });
  if (it == entries_.end()) return nullptr;
  const bool enough = it->source->best || (long_side_px > 0 && LongSide(it->source->linear) >= long_side_px);
  if (!enough) return nullptr;
  entries_.splice(entries_.begin(), entries_, it);
  return it->source;
}

void PictureSources::Keep(const std::string& key, SourcePtr source) {
  const std::lock_guard lock(mutex_);
  const auto old =
      std::find_if(entries_.begin(), entries_.end(), [&](const Entry& e) { return e.key == key; });
  if (old != entries_.end()) {
    const bool better = source->best && !old->source->best;  // the file itself against a copy as large
    if (!better && LongSide(old->source->linear) >= LongSide(source->linear)) return;
    bytes_ -= BytesOf(*old->source);
    entries_.erase(old);
  }
  bytes_ += BytesOf(*source);
  entries_.push_front({key, std::move(source)});
  while (bytes_ > budget_ && entries_.size() > 1) {
    bytes_ -= BytesOf(*entries_.back().source);
    entries_.pop_back();
  }
}

void PictureSources::Clear() {
  const std::lock_guard lock(mutex_);
  entries_.clear();
  bytes_ = 0;
}

Result<SourcePtr> PictureSources::AtHand(const Book& book, const record::Photo& photo) {
  if (SourcePtr found = Find(KeyOf(photo), 1)) return found;
  if (photo.hash.empty())
    return Error{ErrorCode::kNotFound, "this photograph was not read yet", photo.path,
                 "pair and match first"};
  Result<measure::Cached> cached = measure::ReadCached(CacheFolderOf(book) / (photo.hash + ".analysis"));
  if (!cached.ok()) return cached.error();
  auto source = std::make_shared<Source>();
  source->linear = std::move(cached->analysis.pixels);
  Keep(KeyOf(photo), source);
  return SourcePtr(source);
}

Result<SourcePtr> PictureSources::Decoded(const Book& book, const record::Photo& photo, int long_side_px,
                                          const Cancel& cancel) {
  if (SourcePtr found = Find(KeyOf(photo), long_side_px)) return found;
  codec::ReadOptions options;
  options.at_least_long_side_px = long_side_px;
  options.correct_lens = photo.role == record::Role::kFrame;
  options.cancel = cancel;
  Result<codec::Picture> picture = codec::ReadPicture(FileOf(book, photo), options);
  if (!picture.ok()) return picture.error();
  auto source = std::make_shared<Source>();
  source->full = LongSide(picture->pixels) >= std::max(photo.width_px, photo.height_px);
  source->linear =
      long_side_px > 0 ? image::ShrinkTo(picture->pixels, long_side_px) : std::move(picture->pixels);
  if (long_side_px > 0 && LongSide(source->linear) < std::max(photo.width_px, photo.height_px))
    source->full = false;
  // A file that is smaller than it was, or than its session says, has no more to give.
  source->best = source->full || long_side_px == 0 || LongSide(source->linear) < long_side_px;
  Keep(KeyOf(photo), source);
  return SourcePtr(source);
}

}  // namespace samelight::job
