// Notes on photographs as the window says them.
#pragma once

#include <string>

namespace samelight::job {

// Notes of the stages end in the option of the command line that answers them ("...; then say --roll 'r'
// split=SCAN"). In its place comes where that is said in the window; an option that is not known is left out.
std::string NoteForWindow(const std::string& note);

}  // namespace samelight::job
