#include "solve/light_rule.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace samelight::solve {
namespace {

constexpr double kLevelNoise = 0.08, kColourNoise = 0.025;  // log10, of one light's fitted offsets
// How far the shares of one session stray from the usual ones.
constexpr double kLevelShareSigma = 0.15, kWarmShareSigma = 0.2, kColourShareSigma = 0.15;
constexpr double kBalanceSigma = 0.15;  // log10, of a film's layer speeds as the lab prints it

constexpr int kLevelNumbers = 3, kColourNumbers = 5;  // level and its shares; balance and its shares
using RuleMatrix = Eigen::Matrix<double, record::kRuleNumbers, record::kRuleNumbers>;
using RuleVector = Eigen::Matrix<double, record::kRuleNumbers, 1>;

// Mean log colour of coloured subjects is not the lab's idea of grey: limited smoothly.
double Guarded(double grey) {
  constexpr double kLimit = 0.15;
  return kLimit * std::tanh(grey / kLimit);
}

// How much warmer than daylight the light is: half of log10 red over blue.
double Warmth(const LightState& light) { return 0.5 * (light.cast_log10[0] - light.cast_log10[2]); }

// The numbers of the rule as a least-squares problem.
struct Equations {
  RuleMatrix n = RuleMatrix::Zero();
  RuleVector r = RuleVector::Zero();
  void Add(const RuleVector& row, double value, double sigma) {
    n += row * row.transpose() / (sigma * sigma);
    r += row * value / (sigma * sigma);
  }
};

// What a light's level, and its colour in one layer, are made of.
RuleVector LevelRow(double level_log10, double warmth) {
  RuleVector row = RuleVector::Zero();
  row.head<kLevelNumbers>() << 1, -level_log10, -warmth;
  return row;
}
RuleVector ColourRow(int layer, double grey, double cast) {
  RuleVector row = RuleVector::Unit(kLevelNumbers + layer);
  row.tail<2>() << grey, cast;
  return row;
}

// `wanted`: nullptr for lights that are yet to come.
Equations Gather(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
                 const LightState* wanted, std::ptrdiff_t left_out, const RuleBelief& before) {
  Equations e;
  e.n = Eigen::Map<const RuleMatrix>(before.information.data());
  e.r = e.n * Eigen::Map<const RuleVector>(before.mean.data());
  for (std::size_t i = 0; i < lights.size(); ++i) {
    if (static_cast<std::ptrdiff_t>(i) == left_out) continue;
    const double mean = (offsets[i][0] + offsets[i][1] + offsets[i][2]) / 3;
    const double ease = wanted == nullptr ? 1 : 1 / std::sqrt(Kinship(lights[i], *wanted));
    e.Add(LevelRow(lights[i].level_log10, Warmth(lights[i])), mean, ease * kLevelNoise);
    for (int c = 0; c < 3; ++c)
      e.Add(ColourRow(c, Guarded(lights[i].grey_log10[c]), lights[i].cast_log10[c]), offsets[i][c] - mean,
            ease * kColourNoise);
  }
  return e;
}

LightRule RuleFrom(const RuleVector& v) {
  LightRule rule;
  rule.level = v[0];
  rule.level_share = v[1];
  rule.warm_share = v[2];
  const double balance = (v[3] + v[4] + v[5]) / 3;
  for (int c = 0; c < 3; ++c) rule.balance[c] = v[3 + c] - balance;
  rule.grey_share = v[6];
  rule.cast_share = v[7];
  return rule;
}

LightRule Fit(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
              const LightState& wanted, std::ptrdiff_t left_out, const RuleBelief& before) {
  const Equations e = Gather(lights, offsets, &wanted, left_out, before);
  return RuleFrom(e.n.ldlt().solve(e.r));
}

}  // namespace

Vec3 LightRule::Offset(const LightState& light) const {
  Vec3 o;
  for (int c = 0; c < 3; ++c)
    o[c] = level - level_share * light.level_log10 - warm_share * Warmth(light) + balance[c] +
           grey_share * Guarded(light.grey_log10[c]) + cast_share * light.cast_log10[c];
  return o;
}

double Kinship(const LightState& a, const LightState& b) {
  constexpr double kStrange = 0.08, kReach_log10 = 0.65;  // two stops
  if (!a.brightness_log10 || !b.brightness_log10) return 1;
  const double d = (*a.brightness_log10 - *b.brightness_log10) / kReach_log10;
  return kStrange + (1 - kStrange) * std::exp(-0.5 * d * d);
}

RuleBelief BuiltInRule() {
  const LightRule usual;
  Equations e;
  const auto add = [&](int number, double value, double sigma) {
    e.Add(RuleVector::Unit(number), value, sigma);
  };
  e.Add(LevelRow(kUsualLevel, 0), kUsualOffset, kUsualSigma);
  add(1, usual.level_share, kLevelShareSigma);
  add(2, usual.warm_share, kWarmShareSigma);
  for (int c = 0; c < 3; ++c) add(kLevelNumbers + c, 0, kBalanceSigma);
  add(6, usual.grey_share, kColourShareSigma);
  add(7, usual.cast_share, kColourShareSigma);
  RuleBelief belief;
  Eigen::Map<RuleMatrix>(belief.information.data()) = e.n;
  Eigen::Map<RuleVector>(belief.mean.data()) = e.n.ldlt().solve(e.r);
  belief.level_sigma = usual.level_sigma;
  belief.colour_sigma = usual.colour_sigma;
  return belief;
}

LightRule LearnRule(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
                    const LightState& wanted, const RuleBelief& before) {
  LightRule rule = Fit(lights, offsets, wanted, -1, before);
  // Leaving out one light at a time tells how well the rule predicts; the spread that was believed before
  // counts as two lights.
  double level = 2 * before.level_sigma * before.level_sigma,
         colour = 2 * before.colour_sigma * before.colour_sigma;
  double count = 2;
  if (lights.size() >= 3) {
    for (std::size_t i = 0; i < lights.size(); ++i) {
      const Vec3 p =
          Fit(lights, offsets, lights[i], static_cast<std::ptrdiff_t>(i), before).Offset(lights[i]);
      const Vec3& o = offsets[i];
      const double dl = (p[0] + p[1] + p[2] - o[0] - o[1] - o[2]) / 3;
      level += dl * dl;
      double dc = 0;
      for (int c = 0; c < 3; ++c) dc += (p[c] - o[c] - dl) * (p[c] - o[c] - dl) / 2;
      colour += dc;
      count += 1;
    }
  }
  rule.level_sigma = std::sqrt(level / count);
  rule.colour_sigma = std::sqrt(colour / count);
  return rule;
}

record::Belief RuleTaught(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
                          const RuleBelief& before) {
  const Equations e = Gather(lights, offsets, nullptr, -1, before);
  const RuleMatrix covariance = e.n.ldlt().solve(RuleMatrix::Identity());
  const RuleVector mean = covariance * e.r;
  record::Belief belief;
  for (int i = 0; i < record::kRuleNumbers; ++i) {
    belief.mean.push_back(mean[i]);
    for (int k = 0; k <= i; ++k) belief.covariance.push_back(covariance(i, k));
  }
  return belief;
}

}  // namespace samelight::solve
