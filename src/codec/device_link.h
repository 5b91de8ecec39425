// A device link (ICC.1:2010, 8.5): from one RGB straight to another through curves and a table.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "base/result.h"

namespace samelight::codec {

// `shaped`: 0..1 to 0..1, increasing, the same for the three channels, sampled 4096 times; `table`:
// nodes^3 * 3 values 0..1, blue running fastest; nodes 2..64. Kept in 16 bit (lut16Type). Thread safe.
Result<std::vector<std::uint8_t>> DeviceLink(const std::function<double(double)>& shaped, int nodes,
                                             const std::vector<float>& table, const std::string& description);

}  // namespace samelight::codec
