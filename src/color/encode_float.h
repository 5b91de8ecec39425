// The encodings of space.h in float, for where many are needed.
#pragma once

#include "color/space.h"

namespace samelight::color {

// Encode() within 3e-7, up to 1. Odd-symmetric as it is; thread safe.
float EncodeInFloat(Space space, float linear);

}  // namespace samelight::color
