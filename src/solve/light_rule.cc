#include "solve/light_rule.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace samelight::solve {
namespace {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;
using RuleMatrix = Eigen::Matrix<double, record::kRuleNumbers, record::kRuleNumbers>;
using RuleVector = Eigen::Matrix<double, record::kRuleNumbers, 1>;

// A light of the usual level is brought up to print at mid-grey (common practice).
constexpr double kUsualOffset = 0.64, kUsualSigma = 0.08;
// In dim places film is exposed at its limit, and labs bring only a part of that back: the evening prints
// darker (common practice; log10, as simulated sessions of several labs have it).
constexpr double kDimStep = -0.16;
// The shares, and how far sessions stray from them, as simulated sessions of several labs have them.
constexpr double kLevelShare = 0.65, kWarmShare = 0.32, kLevelShareSigma = 0.08;
constexpr double kGreyShare = -0.12, kGreyShareSigma = 0.13, kCastShare = 0.4, kCastShareSigma = 0.09;
constexpr double kBalanceSigma = 0.06;  // log10, of a film's layer speeds as the lab prints it
// What the rule leaves of one light's level: its own, and the exposure of its frames, which are set by hand
// and average out over them.
constexpr double kLevelNoise = 0.03, kFrameNoise = 0.08;
constexpr double kColourNoise = 0.03;  // of fitted colours, looks and rule taken together,
constexpr double kColourLeft = 0.015;  // and of that what is the light's own
// The further a light's colour is from daylight, the less a camera tells of what film sees of it. Of the
// colour's size; 0.06 to 0.1 by invented labs with lamps and stocks of many kinds, less in simulated
// sessions.
constexpr double kStrange = 0.05;
constexpr double kFilmStep = 0.08;      // log10, between the levels of two stocks
constexpr double kColourDrift = 0.015;  // log10, of colour with the brightness of the place,
constexpr double kDriftReach = 0.8;     // log10: two and a half stops
constexpr double kMostColour = 0.5;     // log10, of one layer against the mean: what keeps any picture usable
// Where fast film is loaded: hand-held at f/2.8 and 1/60 s, film of 400 is at its end at 0.07 (common
// practice).
constexpr double kChange = 0.1, kChangeSigma = 0.3;
constexpr double kOneFilm = 0.1;      // probability that all lights are on one kind of film
constexpr double kRollInBoth = 0.02;  // of one roll in the camera in bright and in dim places

// Mean log colour of coloured subjects is not the lab's idea of grey: limited smoothly.
double Guarded(double grey) {
  constexpr double kLimit = 0.3;
  return kLimit * std::tanh(grey / kLimit);
}

// How far the colour of the light is from daylight, either way: half of log10 red over blue. Film has one
// white, and any other light starves a layer.
double Away(const LightState& light) { return 0.5 * std::abs(light.cast_log10[0] - light.cast_log10[2]); }

double Square(double v) { return v * v; }
double MeanOf(const Vec3& v) { return (v[0] + v[1] + v[2]) / 3; }
double StrangeColour(const LightState& light) {
  const Vec3& v = light.cast_log10;
  return Square(kStrange) * (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
}
double LevelNoise(const LightState& light) {
  return Square(kLevelNoise) + Square(kFrameNoise) / std::max(1, light.frames);
}

// What a light's level, and its colour in one layer, are made of.
RuleVector LevelRow(const LightState& light) {
  RuleVector row = RuleVector::Zero();
  row.head<3>() << 1, -light.level_log10, -Away(light);
  return row;
}
RuleVector ColourRow(const LightState& light, int layer) {
  RuleVector row = RuleVector::Unit(3 + layer);
  row.tail<2>() << Guarded(light.grey_log10[layer]), light.cast_log10[layer];
  return row;
}

// 1 when both are on the same side of the change of film.
double Together(const LightState& a, const LightState& b, bool one_film, double dimmer_than) {
  if (one_film) return 1;
  if (!a.brightness_log10 || !b.brightness_log10) return 0.5;
  return (*a.brightness_log10 < dimmer_than) == (*b.brightness_log10 < dimmer_than) ? 1.0 : 0.0;
}

// What is expected of a light's level on the dim side of the change.
double DimStep(const LightState& light, bool one_film, double dimmer_than) {
  return !one_film && light.brightness_log10 && *light.brightness_log10 < dimmer_than ? kDimStep : 0;
}

bool ShareARoll(const FilmedLight& a, const FilmedLight& b) {
  return std::any_of(a.rolls.begin(), a.rolls.end(),
                     [&](int r) { return std::find(b.rolls.begin(), b.rolls.end(), r) != b.rolls.end(); });
}

std::vector<double> Flat(const Matrix& m) { return {m.data(), m.data() + m.size()}; }

}  // namespace

RuleBelief BuiltInRule() {
  RuleMatrix information = RuleMatrix::Zero();
  RuleVector pull = RuleVector::Zero();
  const auto add = [&](const RuleVector& row, double value, double sigma) {
    information += row * row.transpose() / Square(sigma);
    pull += row * value / Square(sigma);
  };
  LightState usual;
  usual.level_log10 = record::kUsualLevel;
  add(LevelRow(usual), kUsualOffset, kUsualSigma);
  add(RuleVector::Unit(1), kLevelShare, kLevelShareSigma);
  add(RuleVector::Unit(2), kWarmShare, kLevelShareSigma);
  for (int layer = 0; layer < 3; ++layer) add(RuleVector::Unit(3 + layer), 0, kBalanceSigma);
  add(RuleVector::Unit(6), kGreyShare, kGreyShareSigma);
  add(RuleVector::Unit(7), kCastShare, kCastShareSigma);
  RuleBelief belief;
  Eigen::Map<RuleMatrix>(belief.information.data()) = information;
  Eigen::Map<RuleVector>(belief.mean.data()) = information.ldlt().solve(pull);
  return belief;
}

double LightRule::LevelKernel(const LightState& a, const LightState& b, const Hypothesis& h) const {
  return LevelRow(a).dot(Eigen::Map<const RuleMatrix>(covariance_.data()) * LevelRow(b)) +
         Square(kFilmStep) * Together(a, b, h.one_film, h.dimmer_than);
}

double LightRule::ColourKernel(const LightState& a, int layer_a, const LightState& b, int layer_b) const {
  const double apart = a.brightness_log10 && b.brightness_log10
                           ? (*a.brightness_log10 - *b.brightness_log10) / kDriftReach
                           : 1;
  // The drift of the three layers sums to zero.
  return ColourRow(a, layer_a).dot(Eigen::Map<const RuleMatrix>(covariance_.data()) * ColourRow(b, layer_b)) +
         ((layer_a == layer_b ? 1.0 : 0.0) - 1.0 / 3) * Square(kColourDrift) * std::exp(-0.5 * apart * apart);
}

LightRule::LightRule(std::vector<FilmedLight> lights, const RuleBelief& before)
    : lights_(std::move(lights)), mean_(before.mean) {
  covariance_ =
      Flat(Eigen::Map<const RuleMatrix>(before.information.data()).llt().solve(RuleMatrix::Identity()));
  const Eigen::Map<const RuleVector> mean(mean_.data());
  const int n = static_cast<int>(lights_.size());
  hypotheses_.push_back({0, true, std::log(kOneFilm), {}, {}});
  double places = 0;
  for (double z = -3; z <= 3; z += 0.125) {
    hypotheses_.push_back({kChange + z * kChangeSigma, false, -0.5 * z * z, {}, {}});
    places += std::exp(-0.5 * z * z);
  }
  for (std::size_t i = 1; i < hypotheses_.size(); ++i)
    hypotheses_[i].weight += std::log((1 - kOneFilm) / places);
  Vector level(n);
  for (int i = 0; i < n; ++i) level[i] = MeanOf(lights_[i].offset) - LevelRow(lights_[i].state).dot(mean);
  double most = -1e300;
  for (Hypothesis& h : hypotheses_) {
    Matrix k(n, n);
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < n; ++j) {
        k(i, j) = LevelKernel(lights_[i].state, lights_[j].state, h);
        if (i == j) k(i, j) += LevelNoise(lights_[i].state);
        const bool apart = Together(lights_[i].state, lights_[j].state, h.one_film, h.dimmer_than) == 0;
        if (j < i && apart && ShareARoll(lights_[i], lights_[j])) h.weight += std::log(kRollInBoth);
      }
    Vector left = level;
    for (int i = 0; i < n; ++i) left[i] -= DimStep(lights_[i].state, h.one_film, h.dimmer_than);
    const Eigen::LLT<Matrix> factor(k);
    const Vector alpha = factor.solve(left);
    h.alpha.assign(alpha.data(), alpha.data() + n);
    h.inverse = Flat(factor.solve(Matrix::Identity(n, n)));
    // Log evidence of the levels.
    h.weight -= 0.5 * left.dot(alpha);
    for (int i = 0; i < n; ++i) h.weight -= std::log(factor.matrixLLT()(i, i));
    most = std::max(most, h.weight);
  }
  double total = 0;
  for (Hypothesis& h : hypotheses_) total += h.weight = std::exp(h.weight - most);
  for (Hypothesis& h : hypotheses_) h.weight /= total;

  Matrix k(3 * n, 3 * n);
  Vector colour(3 * n);
  for (int i = 0; i < 3 * n; ++i) {
    const FilmedLight& a = lights_[i / 3];
    colour[i] = a.offset[i % 3] - MeanOf(a.offset) - ColourRow(a.state, i % 3).dot(mean);
    for (int j = 0; j < 3 * n; ++j)
      k(i, j) = ColourKernel(a.state, i % 3, lights_[j / 3].state, j % 3) +
                (i == j ? Square(kColourNoise) + StrangeColour(a.state) : 0);
  }
  const Eigen::LLT<Matrix> factor(k);
  const Vector alpha = factor.solve(colour);
  colour_alpha_.assign(alpha.data(), alpha.data() + 3 * n);
  colour_inverse_ = Flat(factor.solve(Matrix::Identity(3 * n, 3 * n)));
}

OffsetPrior LightRule::For(const LightState& light) const {
  const Eigen::Map<const RuleVector> mean(mean_.data());
  const int n = static_cast<int>(lights_.size());
  double level = 0, square = 0, variance = 0;
  for (const Hypothesis& h : hypotheses_) {
    Vector k(n);
    for (int i = 0; i < n; ++i) k[i] = LevelKernel(lights_[i].state, light, h);
    const double told = LevelRow(light).dot(mean) + DimStep(light, h.one_film, h.dimmer_than) +
                        k.dot(Eigen::Map<const Vector>(h.alpha.data(), n));
    level += h.weight * told;
    square += h.weight * told * told;
    variance += h.weight * (LevelKernel(light, light, h) + LevelNoise(light) -
                            k.dot(Eigen::Map<const Matrix>(h.inverse.data(), n, n) * k));
  }
  OffsetPrior out;
  double colour_variance = 0;
  for (int c = 0; c < 3; ++c) {
    Vector k(3 * n);
    for (int i = 0; i < 3 * n; ++i) k[i] = ColourKernel(lights_[i / 3].state, i % 3, light, c);
    out.mean[c] =
        ColourRow(light, c).dot(mean) + k.dot(Eigen::Map<const Vector>(colour_alpha_.data(), 3 * n));
    colour_variance += (ColourKernel(light, c, light, c) + Square(kColourLeft) + StrangeColour(light) -
                        k.dot(Eigen::Map<const Matrix>(colour_inverse_.data(), 3 * n, 3 * n) * k)) /
                       3;
  }
  const double common = MeanOf(out.mean);
  for (double& v : out.mean) v = level + std::clamp(v - common, -kMostColour, kMostColour);
  out.level_sigma = std::sqrt(std::max(Square(kLevelNoise), variance + square - level * level));
  out.colour_sigma = std::sqrt(2 * std::max(Square(kColourLeft), colour_variance));  // of a difference
  return out;
}

std::vector<double> LightRule::PartsInFilm(const LightState& light,
                                           const std::vector<LightState>& others) const {
  std::vector<double> parts(others.size(), 0.0), beside(others.size());
  for (const Hypothesis& h : hypotheses_) {
    double total = 0;
    for (std::size_t i = 0; i < others.size(); ++i)
      total += beside[i] = Together(light, others[i], h.one_film, h.dimmer_than);
    for (std::size_t i = 0; i < others.size(); ++i)
      parts[i] += h.weight * (total > 0 ? beside[i] / total : 1.0 / static_cast<double>(others.size()));
  }
  return parts;
}

record::Belief LightRule::Taught() const {
  const int n = static_cast<int>(lights_.size());
  const Eigen::Map<const RuleMatrix> before(covariance_.data());
  RuleVector mean = Eigen::Map<const RuleVector>(mean_.data());
  RuleMatrix covariance = before;
  Matrix rows(record::kRuleNumbers, n), colours(record::kRuleNumbers, 3 * n);
  for (int i = 0; i < n; ++i) rows.col(i) = before * LevelRow(lights_[i].state);
  for (int i = 0; i < 3 * n; ++i) colours.col(i) = before * ColourRow(lights_[i / 3].state, i % 3);
  for (const Hypothesis& h : hypotheses_) {
    mean += h.weight * (rows * Eigen::Map<const Vector>(h.alpha.data(), n));
    covariance -= h.weight * (rows * Eigen::Map<const Matrix>(h.inverse.data(), n, n) * rows.transpose());
  }
  mean += colours * Eigen::Map<const Vector>(colour_alpha_.data(), 3 * n);
  covariance -=
      colours * Eigen::Map<const Matrix>(colour_inverse_.data(), 3 * n, 3 * n) * colours.transpose();
  record::Belief belief;
  for (int i = 0; i < record::kRuleNumbers; ++i) {
    belief.mean.push_back(mean[i]);
    for (int k = 0; k <= i; ++k) belief.covariance.push_back(covariance(i, k));
  }
  return belief;
}

}  // namespace samelight::solve
