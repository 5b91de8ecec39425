// Plain numbers to bytes and back, for files that only this machine's kind reads. Little-endian, as on every
// machine this is built for.
#pragma once

#include <bit>
#include <cstdint>
#include <cstring>
#include <span>
#include <string>
#include <type_traits>
#include <vector>

namespace samelight {
static_assert(std::endian::native == std::endian::little);

class ByteWriter {
 public:
  template <class T>
  void Put(const T& v) {
    static_assert(std::is_trivially_copyable_v<T> && !std::is_pointer_v<T>);
    Bytes(&v, sizeof v);
  }
  void Put(const std::string& s) {
    Put(static_cast<std::uint32_t>(s.size()));
    Bytes(s.data(), s.size());
  }
  template <class T>
  void Array(const std::vector<T>& v) {
    static_assert(std::is_trivially_copyable_v<T> && !std::is_pointer_v<T>);
    Put(static_cast<std::uint64_t>(v.size()));
    Bytes(v.data(), v.size() * sizeof(T));
  }
  void Bytes(const void* data, std::size_t size) {
    const auto* b = static_cast<const std::uint8_t*>(data);
    bytes_.insert(bytes_.end(), b, b + size);
  }
  std::vector<std::uint8_t> bytes_;
};

// After the first read past the end, ok() is false and every value is zero or empty.
class ByteReader {
 public:
  explicit ByteReader(std::span<const std::uint8_t> bytes) : bytes_(bytes) {}
  template <class T>
  T Get() {
    static_assert(std::is_trivially_copyable_v<T> && !std::is_pointer_v<T>);
    T v{};
    if (Take(sizeof v)) std::memcpy(&v, before(sizeof v), sizeof v);
    return v;
  }
  bool Flag() { return Get<std::uint8_t>() != 0; }
  std::string Text() {
    const auto n = Get<std::uint32_t>();
    if (!Take(n)) return {};
    return {reinterpret_cast<const char*>(before(n)), n};
  }
  // How many items of `size` bytes follow; 0 and not ok when they cannot all be there.
  std::size_t Count(std::size_t size) {
    const auto n = Get<std::uint64_t>();
    if (n > (bytes_.size() - at_) / size) ok_ = false;
    return ok_ ? static_cast<std::size_t>(n) : 0;
  }
  template <class T>
  std::vector<T> Array() {
    static_assert(std::is_trivially_copyable_v<T> && !std::is_pointer_v<T>);
    std::vector<T> v(Count(sizeof(T)));
    if (Take(v.size() * sizeof(T)) && !v.empty())
      std::memcpy(v.data(), before(v.size() * sizeof(T)), v.size() * sizeof(T));
    return v;
  }
  bool Take(std::size_t n) {
    if (!ok_ || n > bytes_.size() - at_) return ok_ = false;
    at_ += n;
    return true;
  }
  const std::uint8_t* before(std::size_t n) const { return bytes_.data() + at_ - n; }
  bool ok() const { return ok_; }
  bool done() const { return ok_ && at_ == bytes_.size(); }

 private:
  std::span<const std::uint8_t> bytes_;
  std::size_t at_ = 0;
  bool ok_ = true;
};

}  // namespace samelight
