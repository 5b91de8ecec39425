// Chromatic adaptation between whites.
#pragma once

#include "base/matrix.h"

// All functions are thread safe.
namespace samelight::color {

enum class AdaptMethod { kBradford, kCat16 };

// For messages; empty for a value that is none of the above.
const char* Name(AdaptMethod method);

// Cone-like response matrix (XYZ to RGB of the method). Bradford: ICC.1 Annex E; CAT16: Li et al. 2017.
Mat3 ConeFromXyz(AdaptMethod method);
// XYZ under `from_white` to XYZ under `to_white` (both XYZ with the same Y). The cone signals are scaled by
// degree * to / from + 1 - degree (Li et al. 2017, with equal luminance of the whites); `degree` 0 (none) ..
// 1 (full). A white without a cone signal gives infinities or NaN.
Mat3 Adaptation(const Vec3& from_white, const Vec3& to_white, AdaptMethod method, double degree = 1.0);

}  // namespace samelight::color
