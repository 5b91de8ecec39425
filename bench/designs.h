// Plainer designs of the solve on the same evidence, to see what each step of the program's own is worth.
#pragma once

#include "bench/resolve.h"

namespace samelight::bench {

// Every scan fitted by itself; each frame takes the correction that the nearest scan gives it: the scan of
// its own pair, else of its light, else of the session, nearest in the order of the frames.
Result<Resolved> PerPair(const StoredSession& session, const solve::Request& request);

// One look for the session, exposures of the frames by their exposure data alone: no matches between frames.
solve::Request WithoutGraph(solve::Request request);

}  // namespace samelight::bench
