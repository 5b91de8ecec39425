// A correction in the units that a person reads, and how sure it is.
#pragma once

#include "base/matrix.h"
#include "record/correction.h"
#include "solve/look_parameters.h"

namespace samelight::solve {

// Warmth and green-magenta of per-layer offsets, as the colour they give a grey; exposure from their mean and
// `unify`; the rest against the neutral rendering.
record::Handles ShownHandles(const record::Correction& correction);

// One standard deviation of exposure, warmth, green-magenta and of the predicted colours of skin, foliage and
// a grey, from the covariance of the three log10 offsets.
record::Uncertainty UncertaintyOf(const LookVector& look, const Vec3& offset_log10, const Mat3& covariance);

}  // namespace samelight::solve
