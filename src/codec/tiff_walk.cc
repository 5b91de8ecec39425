#include "codec/tiff_walk.h"

#include <algorithm>
#include <array>
#include <set>

namespace samelight::codec {
namespace {

constexpr std::size_t kMostDirectories = 64;
constexpr std::uint32_t kMostEntries = 1000;
constexpr std::uint64_t kMostNumbers = 1u << 20;  // offsets of strips in one tag

// TIFF 6.0 section 2: bytes of the field types 1..13.
constexpr std::array<std::uint8_t, 14> kTypeBytes = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4};

class Walker {
 public:
  explicit Walker(const ReadAt& read) : read_(read) {}

  TiffParts Walk() {
    std::array<std::uint8_t, 8> head;
    if (!read_(0, head)) return {};
    big_ = head[0] == 'M';
    if (!((head[0] == 'I' && head[1] == 'I') || (head[0] == 'M' && head[1] == 'M')) ||
        Number(&head[2], 2) != 42)
      return {};
    todo_.push_back(Number(&head[4], 4));
    while (!todo_.empty() && seen_.size() < kMostDirectories) {
      const std::uint64_t at = todo_.back();
      todo_.pop_back();
      if (at != 0 && seen_.insert(at).second) Directory(at);
    }
    return std::move(found_);
  }

 private:
  std::uint64_t Number(const std::uint8_t* from, std::size_t size) const {
    std::uint64_t v = 0;
    for (std::size_t i = 0; i < size; ++i) v = v << 8 | from[big_ ? i : size - 1 - i];
    return v;
  }

  void Directory(std::uint64_t at) {
    std::array<std::uint8_t, 2> count_bytes;
    if (!read_(at, count_bytes)) {
      found_.parts.push_back({TiffPart::Kind::kDirectory, at, 2});
      return;
    }
    const auto count = std::min<std::uint64_t>(Number(count_bytes.data(), 2), kMostEntries);
    const std::uint64_t size = 2 + 12 * count + 4;
    found_.parts.push_back({TiffPart::Kind::kDirectory, at, size});
    std::vector<std::uint8_t> entries(size - 2);
    if (!read_(at + 2, entries)) return;
    std::vector<std::uint64_t> offsets, sizes;
    for (std::uint64_t i = 0; i < count; ++i) {
      const std::uint8_t* entry = &entries[12 * i];
      const std::uint64_t tag = Number(entry, 2), type = Number(entry + 2, 2), number = Number(entry + 4, 4);
      if (type == 0 || type >= kTypeBytes.size()) continue;
      const std::uint64_t bytes = number * kTypeBytes[type];
      if (bytes > 4) found_.parts.push_back({TiffPart::Kind::kValue, Number(entry + 8, 4), bytes});
      switch (tag) {
        case 330:
        case 34665:
        case 34853: {
          const auto children = Numbers(entry, type, number);
          todo_.insert(todo_.end(), children.begin(), children.end());
          break;
        }
        case 273:
        case 324:
          offsets = Numbers(entry, type, number);
          break;
        case 279:
        case 325:
          sizes = Numbers(entry, type, number);
          break;
        case 50706:
          found_.dng = true;
          break;
        default:
          break;
      }
    }
    for (std::size_t i = 0; i < std::min(offsets.size(), sizes.size()); ++i)
      found_.parts.push_back({TiffPart::Kind::kPixels, offsets[i], sizes[i]});
    todo_.push_back(Number(&entries[12 * count], 4));
  }

  // The values of a SHORT, LONG or IFD entry.
  std::vector<std::uint64_t> Numbers(const std::uint8_t* entry, std::uint64_t type,
                                     std::uint64_t number) const {
    const std::size_t size = kTypeBytes[type];
    if ((type != 3 && type != 4 && type != 13) || number > kMostNumbers) return {};
    std::vector<std::uint8_t> bytes(entry + 8, entry + 12);
    if (number * size > 4) {
      bytes.resize(number * size);
      if (!read_(Number(entry + 8, 4), bytes)) return {};
    }
    std::vector<std::uint64_t> out(number);
    for (std::size_t i = 0; i < number; ++i) out[i] = Number(&bytes[i * size], size);
    return out;
  }

  const ReadAt& read_;
  bool big_ = false;
  std::vector<std::uint64_t> todo_;
  std::set<std::uint64_t> seen_;
  TiffParts found_;
};

}  // namespace

TiffParts WalkTiff(const ReadAt& read) { return Walker(read).Walk(); }

bool Within(const TiffPart& part, std::uint64_t file_bytes) {
  return part.offset <= file_bytes && part.size <= file_bytes - part.offset;
}

}  // namespace samelight::codec
