// What a look makes of a unified colour, and how that changes with the numbers of the fit.
#pragma once

#include <array>

#include "base/matrix.h"
#include "solve/look_parameters.h"

namespace samelight::solve {

// The numbers that one scan's prediction depends on: the look of its roll, three log10 offsets (light and
// nudge together), and the scan's own contrast (relative) and black (log10).
inline constexpr int kOffsetAt = kLookSize, kContrastAt = kLookSize + 3, kBlackAt = kLookSize + 4;
inline constexpr int kPredictSize = kLookSize + 5;
using PredictVector = std::array<double, kPredictSize>;

// CIELAB (D65) predicted for a unified scene-linear BT.2020 colour.
Vec3 PredictLab(const PredictVector& p, const Vec3& scene);
// The same without a scan's own contrast and black.
Vec3 PredictLab(const LookVector& look, const Vec3& offset_log10, const Vec3& scene);

// Derivative of L*, a*, b* by each number, row by row.
using PredictJacobian = std::array<std::array<double, kPredictSize>, 3>;
// The same prediction with its derivatives. The chain is cut where few numbers pass (the three layers), each
// part is differentiated by dual numbers: exact, and several times faster than dual numbers all the way.
Vec3 PredictLab(const PredictVector& p, const Vec3& scene, PredictJacobian& jacobian);

}  // namespace samelight::solve
