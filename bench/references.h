// What could be reached if the truth were known: tables fitted on the truth itself.
#pragma once

#include <vector>

#include "bench/pictures.h"

namespace samelight::bench {

// One 17 x 17 x 17 table per frame, from its decoded pixels (scene-referred ones with the median at mid-grey)
// to its truth. CIELAB of what it gives.
LabF TablePerFrame(const FramePicture& frame);

// One table for all frames of one light and source, plus an exposure per frame, fitted by turns. The raw
// frames of a source are first brought to one white, the geometric mean of their as-shot whites. In the order
// of `frames`.
std::vector<LabF> TablePerLight(const std::vector<const FramePicture*>& frames);

}  // namespace samelight::bench
