// What a fitted session says to later ones.
#pragma once

#include <vector>

#include "record/pair.h"
#include "solve/film_fit.h"
#include "solve/light_rule.h"
#include "solve/solve.h"

namespace samelight::solve {

// One lesson for every stock and lab among the rolls that have scans in the fit. The look of several rolls is
// their mean. `states`: one per light of the fit. The session's name is left empty.
std::vector<Solution::Taught> Teach(const FilmSession& session, const FilmFit& fit,
                                    const std::vector<record::Roll>& rolls,
                                    const std::vector<LightState>& states);

}  // namespace samelight::solve
