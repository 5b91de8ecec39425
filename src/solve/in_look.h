// Which scans tell of the look.
#pragma once

#include "solve/solve.h"

namespace samelight::solve {

// False for a scan that is kept out by a person or by its light, and for black-and-white ones, by themselves
// or by their roll.
bool InLook(const Request& request, PhotoId scan);

}  // namespace samelight::solve
