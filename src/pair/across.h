// Comparisons that are worth making before a step of the timeline is taken for a change of place.
#pragma once

#include <set>
#include <utility>
#include <vector>

#include "pair/frame_graph.h"
#include "pair/timeline.h"

namespace samelight::pair {

// Pairs of frames (indices, a < b) on both sides of each step that no or few links cross, the nearest six of
// each side: links are looked for among each frame's likest, so that few over a step mean little until the
// frames around it were compared. Steps over half an hour are not asked, since links over them say nothing.
// At most eleven pairs per frame.
std::set<std::pair<int, int>> AcrossSteps(const Timeline& timeline, const std::vector<FrameLink>& links);

}  // namespace samelight::pair
