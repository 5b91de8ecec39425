// Records as bytes: fixed little-endian fields in a fixed order, behind a version number.
#pragma once

#include <array>
#include <bit>
#include <cstdint>
#include <cstring>
#include <optional>
#include <string>
#include <type_traits>
#include <vector>

#include "base/ids.h"

namespace samelight::session {

using Bytes = std::vector<std::uint8_t>;

static_assert(std::endian::native == std::endian::little, "fields are copied as they lie in memory");

// Both take the same calls, `archive(field)...`, so that a record has one list of its fields for both
// directions.
class ByteWriter {
 public:
  static constexpr bool kReads = false;
  template <class T>
  requires std::is_arithmetic_v<T> || std::is_enum_v<T>
  void operator()(const T& value) {
    const std::size_t at = bytes_.size();
    bytes_.resize(at + sizeof(T));
    std::memcpy(bytes_.data() + at, &value, sizeof(T));
  }
  void operator()(const std::string& text) {
    (*this)(static_cast<std::uint32_t>(text.size()));
    bytes_.insert(bytes_.end(), text.begin(), text.end());
  }
  template <class Tag>
  void operator()(const Id<Tag>& id) {
    (*this)(id.value);
  }
  Bytes Take() { return std::move(bytes_); }

 private:
  Bytes bytes_;
};

// Never reads past the end; after a failure every further field stays as it was and ok() is false.
class ByteReader {
 public:
  static constexpr bool kReads = true;
  explicit ByteReader(const Bytes& bytes) : at_(bytes.data()), end_(bytes.data() + bytes.size()) {
    (*this)(version_);
  }
  // That the record was written with; 0 when there is none.
  std::uint16_t version() const { return version_; }
  template <class T>
  requires std::is_arithmetic_v<T> || std::is_enum_v<T>
  void operator()(T& value) {
    if (!Has(sizeof(T))) return;
    if constexpr (std::is_same_v<T, bool>) {
      value = *at_ != 0;  // any other byte in a bool would be undefined behaviour
    } else {
      std::memcpy(&value, at_, sizeof(T));
    }
    at_ += sizeof(T);
  }
  void operator()(std::string& text) {
    std::uint32_t size = 0;
    (*this)(size);
    if (!Has(size)) return;
    text.assign(reinterpret_cast<const char*>(at_), size);
    at_ += size;
  }
  template <class Tag>
  void operator()(Id<Tag>& id) {
    (*this)(id.value);
  }
  // Fails unless `count` further items of at least one byte each can be there.
  bool Has(std::size_t count) {
    if (ok_ && static_cast<std::size_t>(end_ - at_) < count) ok_ = false;
    return ok_;
  }
  void Fail() { ok_ = false; }
  bool ok() const { return ok_; }
  bool at_end() const { return at_ == end_; }

 private:
  const std::uint8_t* at_;
  const std::uint8_t* end_;
  bool ok_ = true;
  std::uint16_t version_ = 0;
};

}  // namespace samelight::session
