// What earlier sessions taught about a film: the look, and how lights come out of it, with their spread.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "record/correction.h"
#include "record/grain.h"

namespace samelight::record {

// Several numbers that are known with a spread. `covariance` is the lower triangle, row by row, diagonal included:
// n (n + 1) / 2 values of n means.
struct Belief {
  std::vector<double> mean, covariance;
  bool operator==(const Belief&) const = default;

  double Covariance(int row, int column) const;
  double Sigma(int i) const;           // standard deviation of one number
};

// What one number of a belief is called, and where it must lie for a look to be usable.
struct BeliefNumber {
  std::string name;                    // "red gamma"
  double least = 0, most = 0;
  double widest = 0;                   // largest standard deviation that makes sense
};

// The numbers of a look in one list: m1 off the diagonal 6, three layers of (gamma, floor, ceiling, log toe, log
// shoulder) 15, m2 off the diagonal 6, six bumps of (hue, chroma, lightness) 18, interimage off the diagonal 6. Units
// as in Look; toe and shoulder as natural logarithms.
inline constexpr int kLookNumbers = 51;
const std::array<BeliefNumber, kLookNumbers>& LookNumbers();

// The numbers of the rule for lights without film (formula at solve::LightRule): level, level share, warm share, balance
// of red, green and blue, grey share, cast share; log10 of exposure, shares without unit.
inline constexpr int kRuleNumbers = 8;
// Mean log10 level that frames usually have: about a stop below mid-grey, as metered scenes do (common practice).
inline constexpr double kUsualLevel = -1.08;
const std::array<BeliefNumber, kRuleNumbers>& RuleNumbers();

// What one session taught: posteriors under the built-in prior.
struct Lesson {
  std::string session;                 // a name for a person
  std::string source;                  // the source that the others were brought to ("body A raw")
  std::vector<std::string> rolls;      // names
  int scans = 0, lights = 0, frames = 0;
  Belief look, rule;                   // kLookNumbers, kRuleNumbers
  double level_sigma = 0, colour_sigma = 0;  // log10: how well the rule told one light from the others
  bool operator==(const Lesson&) const = default;
};

// The look of a stock from one lab, seen through one source.
struct LearnedLook {
  std::string name;
  std::string stock, lab, source;      // empty: not known; source empty: of several
  Belief look, rule;                   // what to expect of the next session: between-session spread included
  double look_between = 0;             // of that, from session to session, in deviations of the built-in prior
  double rule_between = 0;
  double level_sigma = 0, colour_sigma = 0;  // log10
  GrainModel grain;                    // patches 0: not measured
  std::vector<Lesson> lessons;         // at least one
  bool operator==(const LearnedLook&) const = default;
};

}  // namespace samelight::record
