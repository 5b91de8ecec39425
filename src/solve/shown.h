// A correction in the units that a person reads.
#pragma once

#include "record/correction.h"

namespace samelight::solve {

// Warmth and green-magenta of per-layer offsets, as the colour they give a grey; exposure from their mean and
// `unify`; the rest against the neutral rendering.
record::Handles ShownHandles(const record::Correction& correction);

}  // namespace samelight::solve
