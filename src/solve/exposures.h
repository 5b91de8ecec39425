// Exposures of all frames, evened over the session.
#pragma once

#include <optional>

#include "solve/unify_frames.h"

namespace samelight::solve {

// Exposure of every frame by one robust linear solve over the session. The unknown of a frame is how far it
// departs from what its exposure data (t S / N^2) says; display-referred sources, and frames of a light
// without exposure data, depart by a common unknown of their own, since their levels are not those of a
// sensor.
// Sets exposure_log10, tied and the doubt of the level. `exif_sigma`: how far exposure data is trusted,
// log10; empty: as usual. Returns how far this session's is: for the next solve.
double SolveExposures(FrameSet& set, std::optional<double> exif_sigma);

// Exposure data is all that holds a frame that no place ties to another. Where its picture is far darker or
// lighter than what its light usually shows, the data may be as wrong as that.
void DoubtUntiedFrames(FrameSet& set);

}  // namespace samelight::solve
