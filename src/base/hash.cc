#include "base/hash.h"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>

namespace samelight {

struct ContentHash::State {
  XXH3_state_t* xxh = XXH3_createState();
  ~State() { XXH3_freeState(xxh); }
};

ContentHash::ContentHash() : state_(std::make_unique<State>()) { XXH3_128bits_reset(state_->xxh); }
ContentHash::~ContentHash() = default;
void ContentHash::Add(const void* data, std::size_t size) { XXH3_128bits_update(state_->xxh, data, size); }
std::string ContentHash::Hex() const {
  const XXH128_hash_t h = XXH3_128bits_digest(state_->xxh);
  return fmt::format("{:016x}{:016x}", h.high64, h.low64);
}

std::string HashOf(std::span<const std::uint8_t> bytes, const Cancel& cancel) {
  constexpr std::size_t kPiece = 16u << 20;
  ContentHash hash;
  for (; !bytes.empty() && !cancel.requested(); bytes = bytes.subspan(std::min(kPiece, bytes.size())))
    hash.Add(bytes.data(), std::min(kPiece, bytes.size()));
  return cancel.requested() ? std::string() : hash.Hex();
}

}  // namespace samelight
