// Content hashes that tell whether a file changed or moved. Not for security.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>

#include "base/cancel.h"

namespace samelight {

// XXH3, 128 bit (xxHash specification 0.1.1), fed in pieces.
class ContentHash {
 public:
  ContentHash();
  ~ContentHash();
  ContentHash(const ContentHash&) = delete;
  ContentHash& operator=(const ContentHash&) = delete;
  void Add(const void* data, std::size_t size);
  // 32 lower-case hexadecimal digits of all that was added so far.
  std::string Hex() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Of a whole file in memory, as Hex(); empty after a cancel (asked every 16 MiB).
std::string HashOf(std::span<const std::uint8_t> bytes, const Cancel& cancel = {});

}  // namespace samelight
