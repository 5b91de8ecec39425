// What the colours of the scans say about stocks, in words that a person can take up.
#pragma once

#include <vector>

#include "pair/pairing.h"

namespace samelight::pair {

// Adds a note where one roll renders colour unlike an earlier one of which it is not known to be another
// stock, and where inside a roll of unknown stock another one seems to begin; each says how sure it is and
// the words that would make it so. Nothing is done about it. `found`: lights and matches.
void NoteStocks(const Request& request, const Pairing& found, std::vector<record::Note>& notes);

}  // namespace samelight::pair
