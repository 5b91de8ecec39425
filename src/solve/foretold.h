// Whether a look that was believed beforehand agrees with what a session's own scans show.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "solve/earlier.h"
#include "solve/film_fit.h"
#include "solve/light_rule.h"

namespace samelight::solve {

// How the film of one light prints a mid-grey of the scene, foretold and seen; CIELAB (D65).
struct Foretold {
  Vec3 before{0, 0, 0}, seen{0, 0, 0};
};

// What `before` foretells for a light whose film was seen as `look` with `offset_log10`.
Foretold ForetellGrey(const Earlier& before, const LightState& state, const LookVector& look,
                      const Vec3& offset_log10);

// In plain words how this session prints unlike `name`; empty where it does not. Unlike is a mean departure
// above 5 CIELAB units, twice what makes pictures on screens look different (Song and Luo 2001), that is also
// twice its standard error over the lights.
std::optional<std::string> UnlikeForetold(const std::vector<Foretold>& lights, const std::string& name);

}  // namespace samelight::solve
