// What a person says of single frames as words of the history: the same for the desk and the command line.
#pragma once

#include <string>
#include <vector>

#include "session/words.h"

namespace samelight::job {

// The touch and follow of a frame as they stand, to be kept as `name`.
session::KeptState StateNow(const session::Standing& standing, PhotoId frame, const std::string& name);
// Makes a kept state stand again.
std::vector<session::Word> TakeUp(PhotoId frame, const session::KeptState& state);
// States that are kept of a frame, in the order in which they were kept.
std::vector<session::KeptState> StatesOf(const session::Standing& standing, PhotoId frame);
// A touch in words, "exposure +0.30 EV, warmth -4 mired"; "as solved" when there is none.
std::string Told(const record::Handles& touch);

}  // namespace samelight::job
