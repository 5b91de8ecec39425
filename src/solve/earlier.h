// What is believed of a film before a session is seen: built in, or taught by earlier sessions.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "record/learned_look.h"
#include "solve/look_parameters.h"

namespace samelight::solve {

// A Gaussian belief as the fits want it: mean and the inverse of the covariance (row by row).
template <int n>
struct BeliefOf {
  std::array<double, n> mean{};
  std::vector<double> information = std::vector<double>(n * n, 0.0);
};
using LookBelief = BeliefOf<kLookSize>;

using RuleBelief = BeliefOf<record::kRuleNumbers>;

struct Earlier {
  LookBelief look;
  RuleBelief rule;
};

// LookPriorMean() and LookPriorInformation(1), and the rule as labs are known to print (light_rule.h).
const Earlier& BuiltIn();
Earlier TaughtBy(const record::LearnedLook& look);

// What several sessions teach together, as a belief about the next one. Each lesson is a posterior under
// BuiltIn(): that is taken out again and counted once. Sessions stray from a common mean by `between` times
// the built-in spread; the common mean is integrated out, and `between` is what is most likely after all
// lessons and a log-normal belief around 0.3 (a factor of 1.6): one session alone cannot tell it. Formulas:
// the normal-normal hierarchical model, Gelman et al., Bayesian Data Analysis, 3rd ed., 5.4, for vectors.
// Name, stock, lab, source and grain are left to the caller. At least one lesson.
record::LearnedLook Merge(std::vector<record::Lesson> lessons);

}  // namespace samelight::solve
