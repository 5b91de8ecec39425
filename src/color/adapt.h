// Chromatic adaptation between whites.
#pragma once

#include "base/matrix.h"

namespace samelight::color {

enum class AdaptMethod { kBradford, kCat16 };

// Cone-like response matrix (XYZ to RGB of the method). Bradford: ICC.1 Annex E; CAT16: Li et al. 2017.
Mat3 ConeFromXyz(AdaptMethod method);
// XYZ under `from_white` to XYZ under `to_white` (both XYZ, Y = 1), degree of adaptation `degree` 0..1.
Mat3 Adaptation(const Vec3& from_white, const Vec3& to_white, AdaptMethod method, double degree = 1.0);

}  // namespace samelight::color
