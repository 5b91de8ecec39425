// The quasi-random sequence of dither, see quantise.h.
#pragma once

#include <cstdint>

namespace samelight::render {

// Fractions of the R2 sequence as 32-bit turns: 1/p and 1/p^2 with p = 1.32471795724474602596, p^3 = p + 1.
inline constexpr std::uint32_t kTurnX = 3242174889u, kTurnY = 2447445414u;
inline constexpr std::uint32_t kTurnChannel = 1431655765u;
// A little under one step, so that whole values never move.
inline constexpr float kDither = 0.998f / 4294967296.0f;

}  // namespace samelight::render
