// The scans of a session against its digital side.
#pragma once

#include <vector>

#include "pair/digital.h"
#include "pair/look_closely.h"

namespace samelight::pair {

struct Film {
  std::vector<record::Pair> pairs;      // one per scan, in request order
  std::vector<int> frame;               // per scan: index of its frame in the request, -1 for none
  std::vector<std::vector<int>> rolls;  // scans of each roll, in roll order
  // Per scan: its own frame first (when that verifies well enough for cells), then further frames of its
  // light that show the same things.
  std::vector<std::vector<Shown>> shown;
  // Per scan: its place was seen in several lights and nothing tells which is its own. None is claimed; the
  // alternatives say which they are.
  std::vector<bool> doubtful;
  std::vector<bool>
      by_order;  // per scan: the pictures alone leave its light in doubt, the order of its roll tells it
  std::vector<bool> doubled;  // per scan: two exposures on one piece of film, set aside
};

// kCancelled when asked to stop. Needs at least one frame.
Result<Film> PairFilm(const Request& request, const std::vector<View>& scans, const std::vector<View>& frames,
                      const Digital& digital, Kept& kept, Progress& progress, const Cancel& cancel);

}  // namespace samelight::pair
