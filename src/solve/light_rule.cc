#include "solve/light_rule.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace samelight::solve {
namespace {

constexpr double kLevelNoise = 0.08, kColourNoise = 0.025;  // log10, of one light's fitted offsets
constexpr double kUsualLevel = -0.80;  // log10 of a light's mean level that needs no offset

// Mean log colour of coloured subjects is not the lab's idea of grey: limited smoothly.
double Guarded(double grey) {
  constexpr double kLimit = 0.08;
  return kLimit * std::tanh(grey / kLimit);
}

LightRule Fit(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets,
              std::ptrdiff_t left_out) {
  const LightRule prior;
  // Level: unknowns (level, level_share).
  Eigen::Matrix2d n = Eigen::Matrix2d::Zero();
  Eigen::Vector2d r = Eigen::Vector2d::Zero();
  const auto add2 = [&](const Eigen::Vector2d& row, double value, double sigma) {
    n += row * row.transpose() / (sigma * sigma);
    r += row * value / (sigma * sigma);
  };
  add2({0, 1}, prior.level_share, 0.2);
  add2({1, 0}, prior.level_share * kUsualLevel, 0.5);
  // Colour: unknowns (grey_share, cast_share).
  Eigen::Matrix2d cn = Eigen::Matrix2d::Zero();
  Eigen::Vector2d cr = Eigen::Vector2d::Zero();
  const auto add_colour = [&](const Eigen::Vector2d& row, double value, double sigma) {
    cn += row * row.transpose() / (sigma * sigma);
    cr += row * value / (sigma * sigma);
  };
  add_colour({1, 0}, prior.grey_share, 0.2);
  add_colour({0, 1}, prior.cast_share, 0.15);
  for (std::size_t i = 0; i < lights.size(); ++i) {
    if (static_cast<std::ptrdiff_t>(i) == left_out) continue;
    const double mean = (offsets[i][0] + offsets[i][1] + offsets[i][2]) / 3;
    add2({1, -lights[i].level_log10}, mean, kLevelNoise);
    for (int c = 0; c < 3; ++c)
      add_colour({Guarded(lights[i].grey_log10[c]), lights[i].cast_log10[c]}, offsets[i][c] - mean,
                 kColourNoise);
  }
  const Eigen::Vector2d a = n.ldlt().solve(r), b = cn.ldlt().solve(cr);
  LightRule rule;
  rule.level = a[0];
  rule.level_share = a[1];
  rule.grey_share = b[0];
  rule.cast_share = b[1];
  return rule;
}

}  // namespace

Vec3 LightRule::Offset(const LightState& light) const {
  Vec3 o;
  for (int c = 0; c < 3; ++c)
    o[c] = level - level_share * light.level_log10 + grey_share * Guarded(light.grey_log10[c]) +
           cast_share * light.cast_log10[c];
  return o;
}

LightRule LearnRule(const std::vector<LightState>& lights, const std::vector<Vec3>& offsets) {
  LightRule rule = Fit(lights, offsets, -1);
  const LightRule prior;
  // Leaving out one light at a time tells how well the rule predicts; the prior's own spread counts as two
  // lights.
  double level = 2 * prior.level_sigma * prior.level_sigma,
         colour = 2 * prior.colour_sigma * prior.colour_sigma;
  double count = 2;
  if (lights.size() >= 3) {
    for (std::size_t i = 0; i < lights.size(); ++i) {
      const Vec3 p = Fit(lights, offsets, static_cast<std::ptrdiff_t>(i)).Offset(lights[i]);
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
