// The order in which pictures are told and delivered.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "record/pair.h"
#include "record/photo.h"
#include "session/session.h"

namespace samelight::job {

// When a photograph was taken by the first body's clock, microseconds as in record::Capture; none if its file
// does not say.
std::optional<std::int64_t> SessionTime(const record::Photo& photo,
                                        const std::vector<session::Clock>& clocks);

// All photographs in one order: frames by time (those without come last, as they came), each scan behind the
// frame it is paired with; a scan without one stays beside its neighbour on the roll, and a roll of which
// nothing is paired comes last.
std::vector<const record::Photo*> RunningOrder(const std::vector<record::Photo>& photos,
                                               const std::vector<session::Clock>& clocks,
                                               const std::vector<record::Pair>& pairs);

}  // namespace samelight::job
