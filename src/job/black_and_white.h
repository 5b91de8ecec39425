// The tone of a session's black-and-white rolls, for frames that are to be black-and-white.
#pragma once

#include <vector>

#include "color/space.h"
#include "job/parcels.h"
#include "session/session.h"

namespace samelight::job {

// Encoded grey against the luma of a frame in its film look (render/render.h: Monochrome), 65 values:
// quantile against quantile of what the scans and their frames show. Scans of black-and-white rolls that are
// paired with a frame count with it; when none is, all of them count against all frames. From the pictures in
// the cache, at their reduced size. Empty when there is no black-and-white scan or no picture of one: luma
// itself is then the tone.
std::vector<float> BlackAndWhiteTone(const session::Session& session, const Goods& goods);

// The same tone for pictures encoded in `space` instead of sRGB.
std::vector<float> ToneIn(color::Space space, const std::vector<float>& tone);

}  // namespace samelight::job
