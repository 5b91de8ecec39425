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
// Without any film: a light whose frames have this mean log10 level (about a stop below mid-grey, as metered
// scenes do) is brought up to print at mid-grey (common practice).
constexpr double kUsualLevel = -1.05, kUsualOffset = 0.5, kUsualSigma = 0.2;

// Mean log colour of coloured subjects is not the lab's idea of grey: limited smoothly.
double Guarded(double grey) {
  constexpr double kLimit = 0.15;
  return kLimit * std::tanh(grey / kLimit);
}

// How much warmer than daylight the light is: half of log10 red over blue.
double Warmth(const LightState& light) { return 0.5 * (light.cast_log10[0] - light.cast_log10[2]); }

LightRule Fit(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
              const LightState& wanted, std::ptrdiff_t left_out) {
  const LightRule prior;
  // Level: unknowns (level, level_share, warm_share).
  Eigen::Matrix3d n = Eigen::Matrix3d::Zero();
  Eigen::Vector3d r = Eigen::Vector3d::Zero();
  const auto add_level = [&](const Eigen::Vector3d& row, double value, double sigma) {
    n += row * row.transpose() / (sigma * sigma);
    r += row * value / (sigma * sigma);
  };
  add_level({0, 1, 0}, prior.level_share, kLevelShareSigma);
  add_level({0, 0, 1}, prior.warm_share, kWarmShareSigma);
  add_level({1, -kUsualLevel, 0}, kUsualOffset, kUsualSigma);
  // Colour: unknowns (red, green, blue of the film's own balance, grey_share, cast_share).
  using Vector5 = Eigen::Matrix<double, 5, 1>;
  Eigen::Matrix<double, 5, 5> cn = Eigen::Matrix<double, 5, 5>::Zero();
  Vector5 cr = Vector5::Zero();
  const auto add_colour = [&](const Vector5& row, double value, double sigma) {
    cn += row * row.transpose() / (sigma * sigma);
    cr += row * value / (sigma * sigma);
  };
  for (int c = 0; c < 3; ++c) add_colour(Vector5::Unit(c), 0, kBalanceSigma);
  add_colour(Vector5::Unit(3), prior.grey_share, kColourShareSigma);
  add_colour(Vector5::Unit(4), prior.cast_share, kColourShareSigma);
  for (std::size_t i = 0; i < lights.size(); ++i) {
    if (static_cast<std::ptrdiff_t>(i) == left_out) continue;
    const double mean = (offsets[i][0] + offsets[i][1] + offsets[i][2]) / 3;
    const double ease = 1 / std::sqrt(Kinship(lights[i], wanted));
    add_level({1, -lights[i].level_log10, -Warmth(lights[i])}, mean, ease * kLevelNoise);
    for (int c = 0; c < 3; ++c) {
      Vector5 row = Vector5::Unit(c);
      row[3] = Guarded(lights[i].grey_log10[c]);
      row[4] = lights[i].cast_log10[c];
      add_colour(row, offsets[i][c] - mean, ease * kColourNoise);
    }
  }
  const Eigen::Vector3d a = n.ldlt().solve(r);
  const Vector5 b = cn.ldlt().solve(cr);
  LightRule rule;
  rule.level = a[0];
  rule.level_share = a[1];
  rule.warm_share = a[2];
  const double balance = (b[0] + b[1] + b[2]) / 3;
  for (int c = 0; c < 3; ++c) rule.balance[c] = b[c] - balance;
  rule.grey_share = b[3];
  rule.cast_share = b[4];
  return rule;
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

LightRule LearnRule(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
                    const LightState& wanted) {
  LightRule rule = Fit(lights, offsets, wanted, -1);
  const LightRule prior;
  // Leaving out one light at a time tells how well the rule predicts; the prior's own spread counts as two
  // lights.
  double level = 2 * prior.level_sigma * prior.level_sigma,
         colour = 2 * prior.colour_sigma * prior.colour_sigma;
  double count = 2;
  if (lights.size() >= 3) {
    for (std::size_t i = 0; i < lights.size(); ++i) {
      const Vec3 p = Fit(lights, offsets, lights[i], static_cast<std::ptrdiff_t>(i)).Offset(lights[i]);
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

}  // namespace samelight::solve
