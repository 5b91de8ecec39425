// From what a person typed to words in the history.
#pragma once

#include "job/job.h"
#include "session/session.h"

namespace samelight::job {

// Adds one step with all words of the request; nothing when there are none. kNotFound and kInvalidArgument
// name the picture, roll, light, key or value that is not understood; then nothing is added.
Status SayPairWords(session::Session& session, const PairRequest& request);

// The same for follow and settings; what stands already is not said again.
Status SayMatchWords(session::Session& session, const MatchRequest& request);

}  // namespace samelight::job
