// A look that strays from the common one turns around mid-grey: what its curves do to the level and balance
// of a grey is taken back by the offsets, so that offsets of different rolls and lights mean the same.
#pragma once

#include <array>

#include "base/matrix.h"
#include "solve/look_parameters.h"

namespace samelight::solve {

// By how much (log10) an offset moves for each number of the stray; one row per offset.
using GreyHold = std::array<LookVector, 3>;
// To first order around the look that is believed before any film is seen, for a grey of the usual level.
const GreyHold& HoldGrey();

// What is added to the offsets of a look that strays by so much.
Vec3 HoldGrey(const LookVector& stray);

}  // namespace samelight::solve
