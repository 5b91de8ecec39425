#include "base/hash.h"

#include <fmt/format.h>
#include <xxhash.h>

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

}  // namespace samelight
