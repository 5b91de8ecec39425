// Scans against the frames that promise most.
#pragma once

#include "pair/correspond.h"
#include "pair/pairing.h"
#include "pair/verify.h"

namespace samelight::pair {

// A frame and what was found when a scan was verified against it.
struct Shown {
  int frame = 0;
  Verified verified;  // frame from scan
  double behind = 0;  // BehindTheLikeliest; 0 where it does not verify
};

// Per scan: verifies it against `candidates`, and compares closely (dense matches, pose.h) with those that
// verify where there are several to choose from. Stops early when cancelled.
std::vector<std::vector<Shown>> LookClosely(const Request& request, const std::vector<View>& scans,
                                            const std::vector<View>& frames,
                                            const std::vector<std::vector<int>>& candidates, Kept& kept,
                                            Progress& progress, const Cancel& cancel);

// A scan verified against a frame, now or in an earlier pairing.
Verified VerifyOrRecall(const View& scan, const View& frame, Kept& kept);

// What `Correspond` needs for two pictures of the request.
CellJob Job(const Item& a, const View& va, const Item& b, const View& vb, const Verified& verified, int most);

}  // namespace samelight::pair
