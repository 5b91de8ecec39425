// Looks learned from other sessions, as `samelight look learn` would, for the solve of this one.
#pragma once

#include <optional>
#include <vector>

#include "bench/resolve.h"
#include "solve/solve.h"

namespace samelight::bench {

// What the sessions say of each stock; rolls get their stock from the truth, as a person would name it.
Result<std::vector<solve::Solution::Taught>> LessonsOf(const std::vector<fs::path>& sessions);

// The look of the stock that most digital lights of `truth` are for; empty when no lesson is about it.
std::optional<record::LearnedLook> LookFor(const Truth& truth,
                                           const std::vector<solve::Solution::Taught>& lessons);

}  // namespace samelight::bench
