// Frames of one light and of several cameras brought to one source's colours.
#pragma once

#include "solve/unify_frames.h"

namespace samelight::solve {

// The raw source with most frames, or the source with most frames.
void ChooseReference(FrameSet& set);
// The white of a light is the log-mean of the as-shot whites of its raw frames, per body, and so is the
// camera's matrix, which was mixed for each frame's own white: two frames of one light that the camera
// balanced differently become the same.
void OneWhitePerLight(FrameSet& set);
// Camera JPEGs as a typical camera renders, before anything is known.
void GuessTones(FrameSet& set);
// Every source fitted on places matched to those that are related already.
void RelateSources(FrameSet& set);
// Camera JPEGs carry their own white per frame: their colour gains are solved on the graph, raw frames
// held.
void EvenDisplayColour(FrameSet& set);

}  // namespace samelight::solve
