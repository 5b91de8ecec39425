// Near-duplicates and technical faults, noted for the editor.
#pragma once

#include <vector>

#include "pair/digital.h"

namespace samelight::pair {

// In request order, scans first: what measuring found (blank, burnt, unsharp), large clipped parts, bursts of
// one moment with the sharpest named, frames much less sharp than their burst. Nothing is done about any of
// it. Closed eyes are not looked for.
std::vector<record::Note> SeenOnTheWay(const Request& request, const Digital& digital);

// Frames of one moment: of one body, each within a few seconds of the next and showing the same things.
// Indices in the request, in time order; only those of two frames and more.
std::vector<std::vector<int>> Bursts(const Request& request, const Digital& digital);

}  // namespace samelight::pair
