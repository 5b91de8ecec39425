// Looks that last: learned from matched sessions, kept in a folder of the user's, taken up by later sessions.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "job/job.h"
#include "record/learned_look.h"
#include "record/pair.h"
#include "session/words.h"

namespace samelight::job {

// The word that takes a look up. kNotFound, and what reading a look may say.
Result<session::TakeLook> LookWord(const LookWish& wish);

// The look that the session has taken up.
Result<std::optional<record::LearnedLook>> EarlierLook(const session::Standing& standing);

// Names of kept looks that a session might begin from: those of its rolls' stocks and labs, or, of a session
// without film, all. Empty when it has taken one up, or there is none. `folder`: as LookWish::folder.
std::vector<std::string> OfferedLooks(const session::Standing& standing,
                                      const std::vector<record::Roll>& rolls, const fs::path& folder);
// The same as a note of the command line; empty when there is none.
std::string OfferOf(const session::Standing& standing, const std::vector<record::Roll>& rolls,
                    const fs::path& folder);

}  // namespace samelight::job
