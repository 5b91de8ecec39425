// Skin tells a little of the colour of a light that no film saw, never of its lightness.
#pragma once

#include <vector>

#include "solve/film_fit.h"

namespace samelight::solve {

// The belief about a light's offsets after its skin was looked at. `skin_scene`: unified scene-linear BT.2020
// of its skin; `seen`: CIELAB (D65) of skin as the lights with film show it, one per light.
//
// Skin of one gallery differs from person to person and from light to light, so that it is asked only to lie
// in a* and b* about where it lies elsewhere: within the spread between those lights, at least 4, with one
// light 6 (common practice: such faces pass as one series). Gauss-Newton on the two colour differences of the
// offsets, their level held; a Cauchy loss, so that other skin than that of the filmed lights is not bent.
OffsetPrior WithSkinCue(const OffsetPrior& belief, const LookVector& look, const Vec3& skin_scene,
                        const std::vector<Vec3>& seen);

}  // namespace samelight::solve
