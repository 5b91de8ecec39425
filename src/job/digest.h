// What a stage was made from, as one short text: equal texts mean that making it again would give the same.
#pragma once

#include <bit>
#include <cstdint>
#include <string>
#include <string_view>

#include "base/hash.h"

namespace samelight::job {

class Digest {
 public:
  Digest& Add(std::string_view text) {
    const std::uint64_t size = text.size();  // so that "ab","c" differs from "a","bc"
    hash_.Add(&size, sizeof size);
    hash_.Add(text.data(), text.size());
    return *this;
  }
  Digest& Add(std::int64_t number) {
    hash_.Add(&number, sizeof number);
    return *this;
  }
  Digest& Add(int number) { return Add(static_cast<std::int64_t>(number)); }
  Digest& Add(double number) { return Add(std::bit_cast<std::int64_t>(number)); }
  std::string Hex() const { return hash_.Hex(); }

 private:
  ContentHash hash_;
};

}  // namespace samelight::job
