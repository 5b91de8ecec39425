// Numbers that name things of a session. Different things have different types, so they cannot be mixed up.
#pragma once

#include <compare>
#include <cstdint>
#include <functional>

namespace samelight {

// -1 means "none".
template <class Tag>
struct Id {
  std::int64_t value = -1;
  bool valid() const { return value >= 0; }
  auto operator<=>(const Id&) const = default;
};

using PhotoId = Id<struct PhotoTag>;
using LightId = Id<struct LightTag>;
using RollId = Id<struct RollTag>;

}  // namespace samelight

template <class Tag>
struct std::hash<samelight::Id<Tag>> {
  std::size_t operator()(const samelight::Id<Tag>& id) const noexcept { return std::hash<std::int64_t>()(id.value); }
};
