// How noisy small patches are: what grain has to leave room for, and what sharpening must not lift.
#pragma once

#include "render/grain_noise.h"

namespace samelight::render {

inline constexpr int kPatchAcross = 16, kPatchDown = 8;
using Patch = float[kPatchDown][kPatchAcross];

// How far the values lie from the plane nearest to them: root of the mean square over the degrees of freedom
// left.
double Roughness(const Patch& luma);

// The same of the luma of grain on middle grey: root of the mean square of 24 patches. `noise` is used up.
double RoughnessOfGrain(const NoiseShape& shape, NoiseStrip& noise);

}  // namespace samelight::render
