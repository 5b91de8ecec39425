// The exact evaluation of a correction: the reference for every faster path.
#pragma once

#include "base/matrix.h"
#include "record/correction.h"

namespace samelight::look {

// A correction made ready for evaluation: follow and touch resolved into one set of parameters.
struct Resolved {
  record::Unify unify;
  record::Look look;
  Vec3 offset_log10{0, 0, 0};
  record::Handles touch;
  // The neutral rendering, and how far skin hues go back to it (0: not at all).
  record::Look neutral;
  Vec3 neutral_offset_log10{0, 0, 0};
  double skin_back = 0;
};
Resolved Resolve(const record::Correction& correction);

// Pixel as codec::ReadPicture gives it (linear BT.2020, D65, scene- or display-referred) to display-linear BT.2020, D65,
// 0..1, gamut-compressed smoothly toward sRGB. NaN and values below 0 count as 0 first; finite for every input.
Vec3 Evaluate(const Resolved& resolved, const Vec3& rec2020_linear);

}  // namespace samelight::look
