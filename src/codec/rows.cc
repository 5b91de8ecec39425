#include "codec/rows.h"

#include <fmt/format.h>

namespace samelight::codec {

Status CheckSize(std::uint64_t width_px, std::uint64_t height_px, const Limits& limits) {
  if (width_px == 0 || height_px == 0)
    return Error{ErrorCode::kDamaged, "the header gives no picture size", "",
                 "copy it again from its source"};
  if (width_px > limits.most_pixels / height_px)
    return Error{ErrorCode::kTooLarge,
                 fmt::format("the header claims {} x {} pixels, more than the limit of {} million", width_px,
                             height_px, limits.most_pixels / 1'000'000),
                 "", "leave it out, or make a smaller copy"};
  return {};
}

}  // namespace samelight::codec
