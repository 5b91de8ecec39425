// What the stages say, as the window says it: where they name a command or an option, the place in the
// window.
#pragma once

#include <string>

#include "base/result.h"

namespace samelight::job {

// Notes of the stages end in the option of the command line that answers them ("...; then say --roll 'r'
// split=SCAN"). In its place comes where that is said in the window; an option that is not known is left out.
std::string NoteForWindow(const std::string& note);

// What to do about an error or a problem. Advice that speaks of commands or options that the window has no
// word for is left out.
std::string TodoForWindow(std::string todo);
Error ErrorForWindow(Error error);
Status StatusForWindow(const Status& status);

}  // namespace samelight::job
