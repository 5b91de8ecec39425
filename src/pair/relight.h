// What pictures that show the same things say about a change of their light: the things being the same, a
// difference of colour or level is the light's.
#pragma once

#include <vector>

#include "pair/lights.h"

namespace samelight::pair {

// Nats in favour of another light after each step (moment i to i + 1), at least 0: how far the whites, levels
// and directions of linked moments on both sides, a few frames apart, differ against what linked moments of
// one light differ by. All links over the step must agree, and three moments on each side must tell (fewer
// where the sequence ends): a camera's single slip is no change.
std::vector<double> RelitNats(const std::vector<Moment>& moments, const std::vector<Link>& links);

}  // namespace samelight::pair
