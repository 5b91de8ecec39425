// The Common LUT Format (Academy S-2014-006, SMPTE ST 2136-1), version 3: a matrix, a logarithmic shaper, a
// table.
#pragma once

#include <string>

#include "exchange/look_table.h"

namespace samelight::exchange {

// The text of a .clf file: scene-linear BT.2020 (mid-grey 0.18) in, sRGB (IEC 61966-2-1) out. `name`: what
// the look is called.
std::string ClfText(const LookTable& table, const std::string& name);

}  // namespace samelight::exchange
