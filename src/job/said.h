// What was said to a session, and saying more.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "session/session.h"

namespace samelight::job {

// All words of the session so far, one over the other.
Result<session::Standing> StandingOf(const session::Session& session);

// Says `words` as one entry of the history, told as `what`.
Status Say(session::Session& session, const std::vector<session::Word>& words, const std::string& what);

// Scans of lights of few wavelengths, which say nothing about a film in any other light, unless a person let
// them in.
std::set<PhotoId> UnderColouredLamps(const session::Standing& standing,
                                     const std::vector<record::Light>& lights);

// Scans that do not teach the look: these, and those that a person barred.
std::set<PhotoId> KeptOut(const session::Standing& standing, const std::vector<record::Light>& lights);

}  // namespace samelight::job
