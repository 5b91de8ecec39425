// From the working space to the values of one monitor, by its ICC profile (LittleCMS).
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"
#include "color/space.h"

namespace samelight::codec {

// A table of nodes^3 entries of three floats, blue running fastest: the monitor's RGB (0..1) for colours
// encoded in `from` (0..1 in even steps). Relative colorimetric with black point compensation, as ICC
// practice for screens. kDamaged: not a profile; kUnsupported: not one of an RGB monitor. Thread safe.
Result<std::vector<float>> MonitorTable(std::span<const std::uint8_t> icc, color::Space from, int nodes);

}  // namespace samelight::codec
