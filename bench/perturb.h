// Harm done to the evidence of a session, to see how the solve takes it. Deterministic in `seed`.
#pragma once

#include <cstdint>

#include "solve/solve.h"

namespace samelight::bench {

// Keeps about `share` of the cells of every correspondence, at least one where there was any.
solve::Request ThinCells(solve::Request request, double share, std::uint64_t seed);

// In every correspondence, `share` of the cells exchange what they show in picture a, in a ring; of scans
// with frames and of frames with frames.
solve::Request WrongCells(solve::Request request, double share, std::uint64_t seed);

// One in ten of the paired scans (at least one) is paired with a frame of another light: its cells keep the
// scan's colours and take the frame colours of a scan that belongs there. Nothing changes where fewer than
// two lights have film.
solve::Request WrongPairs(solve::Request request, std::uint64_t seed);

// Only these scans.
solve::Request KeepScans(solve::Request request, const std::vector<PhotoId>& scans);
// The paired scan with the most cells to its frames, of every filmed light; in the order of the lights.
std::vector<PhotoId> FullestScans(const solve::Request& request);
// The one of these with the most cells, alone.
solve::Request OneScan(const solve::Request& request);
// The scans of the two filmed lights that stand farthest out: the warmest and the coolest by
// record::Light::mired.
solve::Request TwoExtremeLights(const solve::Request& request);

}  // namespace samelight::bench
