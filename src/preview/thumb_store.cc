#include "preview/thumb_store.h"

#include <cstring>
#include <fstream>
#include <iterator>

#include "base/file.h"
#include "codec/rows.h"

namespace samelight::preview {
namespace {

// File: magic; then entries of: key (32 characters), length (4 bytes, little-endian), JPEG.
constexpr char kMagic[8] = {'S', 'A', 'M', 'E', 'L', 'T', 'H', '1'};
constexpr std::size_t kKey = 32, kHead = kKey + 4;
constexpr std::uint64_t kMostFile = 2ull << 30;
constexpr std::uint32_t kMostEntry = 1 << 20;

void Append(std::vector<std::uint8_t>& bytes, const std::string& key, const std::vector<std::uint8_t>& jpeg) {
  const auto length = static_cast<std::uint32_t>(jpeg.size());
  bytes.insert(bytes.end(), key.begin(), key.end());
  for (int i = 0; i < 4; ++i) bytes.push_back(static_cast<std::uint8_t>(length >> (8 * i)));
  bytes.insert(bytes.end(), jpeg.begin(), jpeg.end());
}

}  // namespace

ThumbStore::ThumbStore(std::filesystem::path file) : file_(std::move(file)) { Read(); }

void ThumbStore::Read() {
  Result<std::vector<std::uint8_t>> bytes = ReadFile(file_, kMostFile);
  const bool ours =
      bytes.ok() && bytes->size() >= sizeof kMagic && std::memcmp(bytes->data(), kMagic, sizeof kMagic) == 0;
  std::size_t at = sizeof kMagic, live = 0;
  if (ours) {
    while (bytes->size() - at >= kHead) {
      const std::uint8_t* head = bytes->data() + at;
      const std::uint32_t length = head[kKey] | head[kKey + 1] << 8 | head[kKey + 2] << 16 |
                                   static_cast<std::uint32_t>(head[kKey + 3]) << 24;
      if (length > kMostEntry || bytes->size() - at - kHead < length) break;
      std::vector<std::uint8_t>& entry = entries_[std::string(reinterpret_cast<const char*>(head), kKey)];
      live += length + (entry.empty() ? kHead : 0) - entry.size();
      entry.assign(head + kHead, head + kHead + length);
      at += kHead + length;
    }
  }
  // A cut end would swallow what is appended; a file of mostly old entries wastes the disk.
  if (ours && at == bytes->size() && at < 2 * live + (1 << 20)) return;
  std::vector<std::uint8_t> anew(kMagic, kMagic + sizeof kMagic);
  for (const auto& [key, jpeg] : entries_) Append(anew, key, jpeg);
  static_cast<void>(WriteFileWhole(file_, anew));  // a cache: without it everything works, slower
}

std::vector<std::uint8_t> ThumbStore::Get(const std::string& key) const {
  const std::lock_guard lock(mutex_);
  const auto it = entries_.find(key);
  return it == entries_.end() ? std::vector<std::uint8_t>() : it->second;
}

void ThumbStore::Put(const std::string& key, std::vector<std::uint8_t> jpeg) {
  if (key.size() != kKey || jpeg.empty() || jpeg.size() > kMostEntry) return;
  std::vector<std::uint8_t> bytes;
  Append(bytes, key, jpeg);
  const std::lock_guard lock(mutex_);
  entries_[key] = std::move(jpeg);
  std::ofstream out(file_, std::ios::binary | std::ios::app);
  out.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

std::size_t ThumbStore::size() const {
  const std::lock_guard lock(mutex_);
  return entries_.size();
}

Result<image::RgbU8> DecodeThumb(const std::vector<std::uint8_t>& jpeg) {
  codec::Limits limits;
  limits.most_pixels = 4'000'000;
  Result<codec::RowReaderPtr> reader = codec::OpenJpeg(jpeg, 0, limits);
  if (!reader.ok()) return reader.error();
  const codec::RowLayout& layout = (*reader)->layout;
  if (layout.channels != 3)
    return Error{ErrorCode::kUnsupported, "a thumbnail without three channels", "", ""};
  image::RgbU8 pixels(layout.width_px, layout.height_px);
  Status read = (*reader)->Read(layout.height_px, pixels.row(0));
  if (!read.ok()) return read.error();
  return pixels;
}

}  // namespace samelight::preview
