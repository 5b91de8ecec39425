#include "solve/earlier.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "solve/light_rule.h"

namespace samelight::solve {
namespace {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;

Matrix CovarianceOf(const record::Belief& belief) {
  const int n = static_cast<int>(belief.mean.size());
  Matrix m(n, n);
  for (int i = 0; i < n; ++i)
    for (int k = 0; k < n; ++k) m(i, k) = belief.Covariance(i, k);
  return m;
}

Vector MeanOf(const record::Belief& belief) {
  return Eigen::Map<const Vector>(belief.mean.data(), static_cast<Eigen::Index>(belief.mean.size()));
}

Matrix InverseOf(const Matrix& m) { return m.llt().solve(Matrix::Identity(m.rows(), m.cols())); }

template <int n>
void Take(const record::Belief& from, BeliefOf<n>& to) {
  std::copy_n(from.mean.begin(), n, to.mean.begin());
  Eigen::Map<Matrix>(to.information.data(), n, n) = InverseOf(CovarianceOf(from));
}

template <int n>
struct Space {
  Matrix information;  // of the built-in belief
  Vector mean;
  explicit Space(const BeliefOf<n>& built_in)
      : information(Eigen::Map<const Matrix>(built_in.information.data(), n, n)),
        mean(Eigen::Map<const Vector>(built_in.mean.data(), n)) {}
};

// What one session says by itself, without the built-in belief: exp(b'x - x'Lx/2).
struct Said {
  Matrix information;
  Vector pull;
};

struct Merged {
  Vector mean;
  Matrix covariance;  // of the next session's numbers
  double log_likelihood = 0;
};

double LogDeterminant(const Matrix& m) {
  return 2 * m.llt().matrixL().toDenseMatrix().diagonal().array().log().sum();
}

template <int n>
Merged MergeAt(const std::vector<Said>& said, const Space<n>& space, double between) {
  const Matrix spread = InverseOf(space.information) * (between * between);  // of sessions around the mean
  const Matrix tight = space.information / (between * between);
  Matrix information = space.information;
  Vector pull = space.information * space.mean;
  double log = 0;
  for (const Said& s : said) {
    // The session's own numbers integrated out.
    const Matrix both = s.information + tight;
    const auto root = both.llt();
    const Matrix gain = root.solve(s.information);
    information += s.information - s.information * gain;
    pull += s.pull - s.information * root.solve(s.pull);
    log += 0.5 * (LogDeterminant(tight) - LogDeterminant(both)) + 0.5 * s.pull.dot(root.solve(s.pull));
  }
  Merged merged;
  const auto root = information.llt();
  merged.mean = root.solve(pull);
  merged.covariance = root.solve(Matrix::Identity(n, n)) + spread;
  merged.log_likelihood = log + 0.5 * pull.dot(merged.mean) - 0.5 * LogDeterminant(information);
  return merged;
}

// Returns the spread between sessions.
template <int n>
double MergeBeliefs(const std::vector<const record::Belief*>& lessons, const BeliefOf<n>& built_in,
                    const std::array<record::BeliefNumber, n>& numbers, record::Belief& out) {
  constexpr double kUsual = 0.3, kFactor = 1.6;
  const Space<n> space(built_in);
  std::vector<Said> said;
  for (const record::Belief* lesson : lessons) {
    const Matrix posterior = InverseOf(CovarianceOf(*lesson));
    // Rounding may leave directions of which the session says nothing a little negative.
    const Eigen::SelfAdjointEigenSolver<Matrix> parts(posterior - space.information);
    const Matrix own = parts.eigenvectors() * parts.eigenvalues().cwiseMax(0).asDiagonal() *
                       parts.eigenvectors().transpose();
    said.push_back({own, posterior * MeanOf(*lesson) - space.information * space.mean});
  }
  double best = -1e300, between = kUsual;
  Merged merged;
  for (int i = -8; i <= 8; ++i) {
    const double tried = kUsual * std::pow(kFactor, i / 4.0);
    Merged m = MergeAt(said, space, tried);
    const double log = m.log_likelihood - 0.5 * (i / 4.0) * (i / 4.0);
    if (!(log > best)) continue;
    best = log;
    between = tried;
    merged = std::move(m);
  }
  out = {};
  for (int i = 0; i < n; ++i) {
    const record::BeliefNumber& number = numbers[static_cast<std::size_t>(i)];
    out.mean.push_back(std::clamp(merged.mean[i], number.least, number.most));
    for (int k = 0; k <= i; ++k) out.covariance.push_back(merged.covariance(i, k));
  }
  return between;
}

}  // namespace

const Earlier& BuiltIn() {
  static const Earlier built_in = [] {
    Earlier e;
    e.look.mean = LookPriorMean();
    e.look.information = LookPriorInformation(1);
    e.rule = BuiltInRule();
    return e;
  }();
  return built_in;
}

Earlier TaughtBy(const record::LearnedLook& look) {
  Earlier e;
  Take(look.look, e.look);
  Take(look.rule, e.rule);
  return e;
}

record::LearnedLook Merge(std::vector<record::Lesson> lessons) {
  record::LearnedLook look;
  std::vector<const record::Belief*> looks, rules;
  double level = 0, colour = 0, lights = 0;
  for (const record::Lesson& lesson : lessons) {
    looks.push_back(&lesson.look);
    rules.push_back(&lesson.rule);
    level += lesson.lights * lesson.level_sigma * lesson.level_sigma;
    colour += lesson.lights * lesson.colour_sigma * lesson.colour_sigma;
    lights += lesson.lights;
  }
  look.look_between = MergeBeliefs<kLookSize>(looks, BuiltIn().look, record::LookNumbers(), look.look);
  look.rule_between =
      MergeBeliefs<record::kRuleNumbers>(rules, BuiltIn().rule, record::RuleNumbers(), look.rule);
  look.level_sigma = std::sqrt(level / lights);
  look.colour_sigma = std::sqrt(colour / lights);
  look.lessons = std::move(lessons);
  return look;
}

}  // namespace samelight::solve
