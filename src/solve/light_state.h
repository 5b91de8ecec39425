// What is known of lights and frames after unification, from what their pictures show.
#pragma once

#include <optional>

#include "solve/unify_frames.h"

namespace samelight::solve {

// Log level and colour of a frame from its regions, weighted by area, as a lab's machine averages the
// densities of the three layers: each layer sees the light's own colour (film has one white), and ends in
// its toe.
// `cast`: colour of the light against daylight, log10, mean 0. Empty where the frame was not measured.
std::optional<Content> ContentOf(const Request& request, const UnifyFrame& frame, const Vec3& cast);

// Fills lights and content of `unified`.
void TellLights(const FrameSet& set, Unification& unified);

}  // namespace samelight::solve
