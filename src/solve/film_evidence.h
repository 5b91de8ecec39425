// What the scans of a session say, ready for the fit: matched places, and like regions where no place was
// matched.
#pragma once

#include <set>
#include <vector>

#include "solve/film_fit.h"
#include "solve/unify.h"

namespace samelight::solve {

struct FilmEvidence {
  FilmSession session;         // lights in the order of the request
  std::vector<PhotoId> scans;  // of session.scans
  std::set<int> filmed;        // lights with at least one scan in the fit
};

// Clipped cells are left out; camera JPEGs and other moments of the light count less; skin counts by
// Request::skin_weight. Black-and-white and barred scans are left out. A scan without matched places gives
// the middle quantiles of skin, foliage, white cloth and greys beside the mean of the same in the frames of
// its light, with little trust.
FilmEvidence GatherFilm(const Request& request, const Unification& unified);

}  // namespace samelight::solve
