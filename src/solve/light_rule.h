// What offsets a light gets when no film saw it: a rule learned from the filmed lights of the session.
#pragma once

#include <vector>

#include "solve/earlier.h"
#include "solve/film_fit.h"
#include "solve/unify.h"

namespace samelight::solve {

// offset = level - level_share * (light's level) - warm_share * (light's warmth against daylight) in common,
// plus the film's own balance, plus grey_share * (mean colour of its frames)
// + cast_share * (colour of the light against daylight) per layer. Labs bring every scan to one density and
// part of the way to grey; film keeps part of the light's own colour.
struct LightRule {
  double level = 0;
  double level_share = 0.5;
  double warm_share = 0.45;
  Vec3 balance{0, 0, 0};  // the film's own balance as the lab prints it; mean 0
  double grey_share = -0.4;
  double cast_share = 0.4;
  double level_sigma = 0.10;  // how well the rule predicts, by leaving out one light at a time
  double colour_sigma = 0.04;

  Vec3 Offset(const LightState& light) const;
};

// How much one light tells about another, 0..1: film and lab are used differently in bright and in dim
// places.
double Kinship(const LightState& a, const LightState& b);

// Without any film: a light whose frames have this mean log10 level (about a stop below mid-grey, as metered
// scenes do) is brought up to print at mid-grey (common practice).
inline constexpr double kUsualLevel = -1.05, kUsualOffset = 0.5, kUsualSigma = 0.2;

// The usual rule of labs, and how far those of single sessions stray from it.
RuleBelief BuiltInRule();

// Ridge regression on (light, fitted offsets), each counted by its kinship with the light that the rule is
// for. Without any filmed light what was believed before comes back. A light whose frames are strongly
// coloured counts less in the grey share.
LightRule LearnRule(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
                    const LightState& wanted, const RuleBelief& before);

// The same for the lights that are yet to come, wherever they are: numbers as record::RuleNumbers() names
// them.
record::Belief RuleTaught(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
                          const RuleBelief& before);

}  // namespace samelight::solve
