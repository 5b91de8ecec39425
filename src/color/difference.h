// CIEDE2000 colour difference, ISO/CIE 11664-6; test data of Sharma, Wu, Dalal 2005.
#pragma once

#include "base/matrix.h"

namespace samelight::color {

// Of two CIELAB colours (same white), kL = kC = kH = 1. Symmetric, >= 0; NaN in gives NaN. Thread safe.
double Ciede2000(const Vec3& lab1, const Vec3& lab2);

}  // namespace samelight::color
