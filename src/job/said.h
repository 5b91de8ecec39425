// What was said to a session, and saying more.
#pragma once

#include <string>
#include <vector>

#include "session/session.h"

namespace samelight::job {

// All words of the session so far, one over the other.
Result<session::Standing> StandingOf(const session::Session& session);

// Says `words` as one entry of the history, told as `what`.
Status Say(session::Session& session, const std::vector<session::Word>& words, const std::string& what);

}  // namespace samelight::job
