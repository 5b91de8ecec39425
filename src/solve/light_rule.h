// What offsets a light gets when no film saw it: a rule learned from the filmed lights of the session.
#pragma once

#include <vector>

#include "solve/earlier.h"
#include "solve/film_fit.h"
#include "solve/unify.h"

namespace samelight::solve {

// The usual rule of labs, and how far those of single sessions stray from it; numbers as
// record::RuleNumbers() names them.
RuleBelief BuiltInRule();

struct FilmedLight {
  LightState state;
  Vec3 offset{0, 0, 0};    // as fitted, log10
  std::vector<int> rolls;  // that have scans in it
};

// offset = level - level_share * (light's level) - warm_share * (how far its colour is from daylight) in
// common, plus the film's own balance, plus grey_share * (mean colour of its frames)
// + cast_share * (colour of the light against daylight) per layer. Labs bring every scan to one density and
// part of the way to grey; film keeps part of the light's own colour.
//
// The rule's numbers are believed `before` with a spread, and the filmed lights tell the rest: Gaussian
// processes over the lights (Rasmussen and Williams 2006, chapter 2.7: a linear model with beliefs about its
// weights, and what it leaves). Film for dim places is often another stock, printed at another level: where
// the change of stock lies is not asked for but taken with every possible place, weighed by how well the
// filmed lights agree with it; lights of one roll are on one side.
class LightRule {
 public:
  LightRule(std::vector<FilmedLight> lights, const RuleBelief& before);

  // Mean and spread of the offsets of a light that no film saw.
  OffsetPrior For(const LightState& light) const;
  // What part each of `others` (one entry per scan, not empty) has in telling the film of a light, the parts
  // summing to 1: for every place of the change those on the light's side of it share equally, all where none
  // is there. Many scans on probably another film thus do not outvote few on probably the same.
  std::vector<double> PartsInFilm(const LightState& light, const std::vector<LightState>& others) const;
  // The rule's numbers after these lights: what a later session may start from.
  record::Belief Taught() const;

 private:
  struct Hypothesis {
    double dimmer_than = 0;  // brightness_log10 at which the stock changes
    bool one_film = false;   // it does not change
    double weight = 0;
    std::vector<double> alpha;    // level: K^-1 (offset - mean)
    std::vector<double> inverse;  // level: K^-1, row by row
  };
  double LevelKernel(const LightState& a, const LightState& b, const Hypothesis& h) const;
  double ColourKernel(const LightState& a, int layer_a, const LightState& b, int layer_b) const;

  std::vector<FilmedLight> lights_;
  std::array<double, record::kRuleNumbers> mean_;
  std::vector<double> covariance_;  // row by row
  std::vector<Hypothesis> hypotheses_;
  std::vector<double> colour_alpha_, colour_inverse_;
};

}  // namespace samelight::solve
