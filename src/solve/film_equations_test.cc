// Block elimination against one dense matrix of all numbers; invented numbers.
#include "solve/film_equations.h"

#include <gtest/gtest.h>
#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <random>

#include "solve/hold_grey.h"

namespace samelight::solve {
namespace {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;
using PredictNumbers = Eigen::Matrix<double, kPredictSize, 1>;

Eigen::Map<Matrix> MatrixOf(EquationBlock& block) {
  const auto size = static_cast<Eigen::Index>(block.gradient.size());
  return {block.matrix.data(), size, size};
}
Eigen::Map<Vector> GradientOf(EquationBlock& block) {
  return {block.gradient.data(), static_cast<Eigen::Index>(block.gradient.size())};
}

// Two rolls, three lights (the last without film), five scans.
FilmSession SomeSession(std::mt19937& random) {
  std::normal_distribution<double> normal;
  FilmSession session;
  session.rolls = 2;
  session.lights.resize(3);
  session.trends.resize(3);
  for (const auto& [roll, light] : {std::pair(0, 0), {0, 0}, {1, 0}, {1, 1}, {0, 1}}) {
    FilmSession::Scan scan;
    scan.roll = roll;
    scan.light = light;
    scan.place = 0.5 * normal(random);
    scan.level = 0.2 * normal(random);
    for (double& v : scan.grey) v = 0.1 * normal(random);
    session.scans.push_back(scan);
  }
  return session;
}

void MakeSome(std::mt19937& random, EquationBlock& block) {
  std::normal_distribution<double> normal;
  auto m = MatrixOf(block);
  const Matrix a = Matrix::NullaryExpr(m.rows(), m.cols(), [&] { return normal(random); });
  m = a * a.transpose() / static_cast<double>(m.rows()) + Matrix::Identity(m.rows(), m.cols());
  for (double& v : block.gradient) v = normal(random);
}

FilmEquations SomeEquations(std::mt19937& random, const FilmSession& session) {
  FilmEquations e(session, session.scans.size());
  MakeSome(random, e.looks);
  for (EquationBlock& light : e.lights) MakeSome(random, light);
  for (FilmEquations::OfScan& s : e.scans) {
    MakeSome(random, s.prediction);
    MakeSome(random, s.nudge);
  }
  return e;
}

// All numbers in one list: looks, lights, nudges.
struct Dense {
  int looks, lights, size;
  explicit Dense(const FilmSession& s)
      : looks(LooksLayout{s.rolls}.size()),
        lights(looks + kLightSize * static_cast<int>(s.lights.size())),
        size(lights + kNudgeSize * static_cast<int>(s.scans.size())) {}
  int Light(std::size_t l) const { return looks + kLightSize * static_cast<int>(l); }
  int Nudge(std::size_t i) const { return lights + kNudgeSize * static_cast<int>(i); }
};

// What a scan is predicted with, from the definition of the fit's numbers (film_fit.h).
PredictNumbers NumbersOf(const FilmSession& session, const Vector& x, std::size_t i) {
  const Dense at(session);
  const LooksLayout looks{session.rolls};
  FilmFit fit = FilmFit::Start(session);
  const FilmSession::Scan& scan = session.scans[i];
  const int own = at.Light(static_cast<std::size_t>(scan.light));
  for (int k = 0; k < kLookSize; ++k) {
    fit.common[k] = x[looks.Common() + k];
    for (int r = 0; r < session.rolls; ++r) fit.roll[r][k] = x[looks.Roll(r) + k];
    fit.light_look[scan.light][k] = x[own + kLightLook + k];
  }
  for (int c = 0; c < 3; ++c) fit.light[scan.light][c] = x[own + c];
  const LookVector look = fit.LookOf(scan.roll, scan.light);
  const Vec3 offset = fit.OffsetOf(scan.roll, scan.light);
  PredictNumbers p;
  for (int k = 0; k < kLookSize; ++k) p[k] = look[k];
  const int nudge = at.Nudge(i);
  for (int c = 0; c < 3; ++c)
    p[kOffsetAt + c] = offset[c] + scan.place * x[own + kLightTrend + c] - x[looks.Content()] * scan.level -
                       x[looks.Content() + 1] * scan.grey[c] + x[nudge + c];
  p[kContrastAt] = x[nudge + 3];
  p[kBlackAt] = x[nudge + 4];
  return p;
}

void Assemble(const FilmSession& session, FilmEquations e, Matrix& h, Vector& g) {
  const Dense at(session);
  h = Matrix::Zero(at.size, at.size);
  g = Vector::Zero(at.size);
  h.topLeftCorner(at.looks, at.looks) = MatrixOf(e.looks);
  g.head(at.looks) = GradientOf(e.looks);
  for (std::size_t l = 0; l < e.lights.size(); ++l) {
    h.block(at.Light(l), at.Light(l), kLightSize, kLightSize) = MatrixOf(e.lights[l]);
    g.segment(at.Light(l), kLightSize) = GradientOf(e.lights[l]);
  }
  for (std::size_t i = 0; i < e.scans.size(); ++i) {
    // A prediction's numbers are linear in the list.
    Matrix by(kPredictSize, at.size);
    const PredictNumbers none = NumbersOf(session, Vector::Zero(at.size), i);
    for (int k = 0; k < at.size; ++k) by.col(k) = NumbersOf(session, Vector::Unit(at.size, k), i) - none;
    h += by.transpose() * MatrixOf(e.scans[i].prediction) * by;
    g += by.transpose() * GradientOf(e.scans[i].prediction);
    h.block(at.Nudge(i), at.Nudge(i), kNudgeSize, kNudgeSize) += MatrixOf(e.scans[i].nudge);
    g.segment(at.Nudge(i), kNudgeSize) += GradientOf(e.scans[i].nudge);
  }
}

TEST(FilmEquations, AStepIsThatOfAllNumbersTogether) {
  std::mt19937 random(3);
  const FilmSession session = SomeSession(random);
  const FilmEquations equations = SomeEquations(random, session);
  Matrix h;
  Vector g;
  Assemble(session, equations, h, g);
  for (const double damping : {0.0, 0.3}) {
    Matrix damped = h;
    damped.diagonal() *= 1 + damping;
    const Vector want = -damped.ldlt().solve(g);
    const FilmStep step = StepOf(session, equations, damping);
    const Dense at(session);
    Vector got(at.size);
    const auto put = [&](int place, const std::vector<double>& numbers) {
      std::copy(numbers.begin(), numbers.end(), got.data() + place);
    };
    put(0, step.looks);
    for (std::size_t l = 0; l < step.lights.size(); ++l) put(at.Light(l), step.lights[l]);
    for (std::size_t i = 0; i < step.nudges.size(); ++i) put(at.Nudge(i), step.nudges[i]);
    EXPECT_LT((got - want).norm(), 1e-8 * want.norm()) << damping;
  }
}

TEST(FilmEquations, CovariancesAreThoseOfAllNumbersTogether) {
  std::mt19937 random(4);
  const FilmSession session = SomeSession(random);
  const FilmEquations equations = SomeEquations(random, session);
  Matrix h;
  Vector g;
  Assemble(session, equations, h, g);
  const Matrix inverse = h.inverse();
  FilmFit fit = FilmFit::Start(session);
  Invert(session, equations, fit);
  const int looks = fit.LooksSize();
  ASSERT_EQ(fit.looks_covariance.size(), static_cast<std::size_t>(looks) * looks);
  for (int a = 0; a < looks; ++a)
    for (int b = 0; b < looks; ++b) EXPECT_NEAR(fit.looks_covariance[a * looks + b], inverse(a, b), 1e-9);
  const Dense at(session);
  for (std::size_t l = 0; l < session.lights.size(); ++l) {
    const auto place = [&](int k) { return at.Light(l) + (k < kLookSize ? kLightLook + k : k - kLookSize); };
    for (int a = 0; a < kLookSize + 3; ++a) {
      for (int b = 0; b < kLookSize + 3; ++b)
        EXPECT_NEAR(fit.light_covariance[l].own[a * (kLookSize + 3) + b], inverse(place(a), place(b)), 1e-9);
      for (int b = 0; b < looks; ++b)
        EXPECT_NEAR(fit.light_covariance[l].with_looks[a * looks + b], inverse(place(a), b), 1e-9);
    }
  }
}

// Steeper curves of one layer turn around mid-grey, which else would take another colour.
TEST(HoldGrey, AStrayingLookLeavesGreyWhereItIs) {
  const double grey = std::pow(10.0, record::kUsualLevel);
  const Vec3 scene{grey, grey, grey}, offset{0.64, 0.64, 0.64};
  const auto away = [&](const Vec3& a) {
    const Vec3 b = PredictLab(LookPriorMean(), offset, scene);
    return std::hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
  };
  for (int k = 0; k < kLookSize; ++k) {
    LookVector stray{}, look = LookPriorMean();
    stray[k] = kLookShare * LookPriorSigma()[k];
    look[k] += stray[k];
    const Vec3 held = HoldGrey(stray);
    const double alone = away(PredictLab(look, offset, scene));
    const double with =
        away(PredictLab(look, {offset[0] + held[0], offset[1] + held[1], offset[2] + held[2]}, scene));
    EXPECT_LT(with, 0.02 + 0.15 * alone) << "number " << k;
    if (k == kLayerStart) EXPECT_GT(alone, 2);
  }
}

TEST(LookPrior, LayersStrayTogether) {
  const LookVector sigma = LookPriorSigma();
  for (const double share : {1.0, 0.3}) {
    const std::vector<double> information = LookPriorInformation(share);
    const Matrix covariance = Eigen::Map<const Matrix>(information.data(), kLookSize, kLookSize).inverse();
    for (int k = 0; k < kLookSize; ++k) EXPECT_NEAR(std::sqrt(covariance(k, k)), share * sigma[k], 1e-9) << k;
    // Gammas of two layers: a quarter apart of what all three stray.
    const int red = kLayerStart, green = kLayerStart + 5;
    const double apart = covariance(red, red) + covariance(green, green) - 2 * covariance(red, green);
    EXPECT_NEAR(std::sqrt(apart / 2), 0.25 * share * sigma[red], 1e-9);
  }
}

}  // namespace
}  // namespace samelight::solve
