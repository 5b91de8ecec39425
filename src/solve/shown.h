// A correction in the units that a person reads, and how sure it is.
#pragma once

#include <array>

#include "base/matrix.h"
#include "record/correction.h"
#include "solve/look_parameters.h"

namespace samelight::solve {

// Warmth and green-magenta of per-layer offsets, as the colour they give a grey; exposure from their mean and
// `unify`; the rest against the neutral rendering.
record::Handles ShownHandles(const record::Correction& correction);

// Scene-linear skin, leaf and grey at normal exposure (measured spectra under D65, rounded).
inline constexpr std::array<Vec3, 3> kUsualColours = {
    {{0.30, 0.22, 0.16}, {0.075, 0.11, 0.045}, {0.18, 0.18, 0.18}}};

// One standard deviation of exposure, warmth, green-magenta and of the predicted colours of skin, foliage and
// a grey, from the covariance of the three log10 offsets.
record::Uncertainty UncertaintyOf(const LookVector& look, const Vec3& offset_log10, const Mat3& covariance);

}  // namespace samelight::solve
