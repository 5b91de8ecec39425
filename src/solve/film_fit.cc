#include "solve/film_fit.h"

#include <ceres/ceres.h>
#include <ceres/jet.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/task_pool.h"
#include "color/space.h"
#include "solve/median.h"

namespace samelight::solve {
namespace {

constexpr double kLossScale = 2.5;    // CIELAB units, Cauchy
constexpr double kScanWeight = 25;    // each scan counts as so many independent samples of one CIELAB unit
constexpr double kRollShare = 0.30;   // how far a roll's look strays from the common one, in prior deviations
constexpr double kNudgeLevel = 0.03;  // log10: a tenth of a stop, a lab's operator step (common practice)
constexpr double kNudgeColour = 0.015;
constexpr double kNudgeContrast = 0.04;
constexpr double kNudgeBlack = 0.08;

template <class T>
void LabFromDisplay(const T rgb[3], T lab[3]) {
  using std::cbrt;
  static const Mat3 xyz_from_rgb = color::XyzFromRgb(color::Space::kRec2020);
  static const Vec3 white = color::XyzFromXy(color::kD65);
  T xyz[3], f[3];
  look::MatrixTimes(xyz_from_rgb, rgb, xyz);
  for (int c = 0; c < 3; ++c) {
    const T t = xyz[c] / white[c];
    // ISO/CIE 11664-4: cube root above (6/29)^3, straight below.
    if (t > T(216.0 / 24389.0))
      f[c] = cbrt(t);
    else
      f[c] = t * (24389.0 / 27.0 / 116.0) + 16.0 / 116.0;
  }
  lab[0] = 116.0 * f[1] - 16.0;
  lab[1] = 500.0 * (f[0] - f[1]);
  lab[2] = 200.0 * (f[1] - f[2]);
}

template <class T>
void Predict(const T* look, const T offset[3], const T& contrast, const T& black, const Vec3& scene,
             T lab[3]) {
  const look::LookOf<T> l = LookFrom(look, contrast, black);
  const T in[3] = {T(scene[0]), T(scene[1]), T(scene[2])};
  T out[3];
  look::FilmFromScene(l, offset, T(1.0), in, out);
  LabFromDisplay(out, lab);
}

// Residual of one sample. Blocks: common look, roll's difference, light's offsets, scan's nudge. The
// derivative with respect to the effective look and offsets is computed once and copied to the blocks that
// add up to them.
class SampleCost final : public ceres::SizedCostFunction<3, kLookSize, kLookSize, 3, kNudgeSize> {
 public:
  explicit SampleCost(const FilmSample& s) : scene_(s.scene), lab_(s.lab) {
    const double chroma = std::hypot(s.lab[1], s.lab[2]);
    scale_ = {1.0, 1 / (1 + 0.035 * chroma), 1 / (1 + 0.035 * chroma)};
  }

  bool Evaluate(double const* const* blocks, double* residuals, double** jacobians) const override {
    double look[kLookSize], offset[3];
    for (int i = 0; i < kLookSize; ++i) look[i] = blocks[0][i] + blocks[1][i];
    for (int c = 0; c < 3; ++c) offset[c] = blocks[2][c] + blocks[3][c];
    if (jacobians == nullptr) {
      double lab[3];
      Predict<double>(look, offset, blocks[3][3], blocks[3][4], scene_, lab);
      for (int k = 0; k < 3; ++k) residuals[k] = (lab[k] - lab_[k]) * scale_[k];
      return true;
    }
    constexpr int kAll = kLookSize + kNudgeSize;
    using Dual = ceres::Jet<double, kAll>;
    Dual p[kLookSize], o[3], lab[3];
    for (int i = 0; i < kLookSize; ++i) p[i] = Dual(look[i], i);
    for (int c = 0; c < 3; ++c) o[c] = Dual(offset[c], kLookSize + c);
    Predict<Dual>(p, o, Dual(blocks[3][3], kLookSize + 3), Dual(blocks[3][4], kLookSize + 4), scene_, lab);
    for (int k = 0; k < 3; ++k) {
      residuals[k] = (lab[k].a - lab_[k]) * scale_[k];
      for (int block = 0; block < 2; ++block)
        if (jacobians[block] != nullptr)
          for (int i = 0; i < kLookSize; ++i) jacobians[block][k * kLookSize + i] = lab[k].v[i] * scale_[k];
      if (jacobians[2] != nullptr)
        for (int i = 0; i < 3; ++i) jacobians[2][k * 3 + i] = lab[k].v[kLookSize + i] * scale_[k];
      if (jacobians[3] != nullptr)
        for (int i = 0; i < kNudgeSize; ++i)
          jacobians[3][k * kNudgeSize + i] = lab[k].v[kLookSize + i] * scale_[k];
    }
    return true;
  }

 private:
  Vec3 scene_, lab_, scale_;
};

// (A x - mean) / sigma with a small dense A given row by row.
class LinearPrior final : public ceres::CostFunction {
 public:
  struct Row {
    std::vector<double> factor;
    double mean = 0, sigma = 1;
  };
  LinearPrior(int size, std::vector<Row> rows) : rows_(std::move(rows)) {
    mutable_parameter_block_sizes()->push_back(size);
    set_num_residuals(static_cast<int>(rows_.size()));
  }
  bool Evaluate(double const* const* p, double* residuals, double** jacobians) const override {
    const int size = parameter_block_sizes()[0];
    for (std::size_t r = 0; r < rows_.size(); ++r) {
      double v = -rows_[r].mean;
      for (int i = 0; i < size; ++i) v += rows_[r].factor[i] * p[0][i];
      residuals[r] = v / rows_[r].sigma;
      if (jacobians != nullptr && jacobians[0] != nullptr)
        for (int i = 0; i < size; ++i) jacobians[0][r * size + i] = rows_[r].factor[i] / rows_[r].sigma;
    }
    return true;
  }

 private:
  std::vector<Row> rows_;
};

LinearPrior* DiagonalPrior(const LookVector& mean, const LookVector& sigma, double share) {
  std::vector<LinearPrior::Row> rows;
  for (int i = 0; i < kLookSize; ++i) {
    LinearPrior::Row row{std::vector<double>(kLookSize, 0.0), mean[i], sigma[i] * share};
    row.factor[i] = 1;
    rows.push_back(std::move(row));
  }
  return new LinearPrior(kLookSize, std::move(rows));
}

std::vector<LinearPrior::Row> OffsetRows(int size, const OffsetPrior& prior) {
  const auto row = [size](double r, double g, double b) {
    std::vector<double> f(static_cast<std::size_t>(size), 0.0);
    f[0] = r;
    f[1] = g;
    f[2] = b;
    return f;
  };
  const Vec3& m = prior.mean;
  return {{row(1.0 / 3, 1.0 / 3, 1.0 / 3), (m[0] + m[1] + m[2]) / 3, prior.level_sigma},
          {row(1, -1, 0), m[0] - m[1], prior.colour_sigma},
          {row(0, -1, 1), m[2] - m[1], prior.colour_sigma}};
}

LinearPrior* NudgePrior() {
  OffsetPrior zero;
  zero.level_sigma = kNudgeLevel;
  zero.colour_sigma = kNudgeColour * 1.4142135623730951;
  std::vector<LinearPrior::Row> rows = OffsetRows(kNudgeSize, zero);
  for (int i : {3, 4}) {
    LinearPrior::Row row{std::vector<double>(kNudgeSize, 0.0), 0, i == 3 ? kNudgeContrast : kNudgeBlack};
    row.factor[i] = 1;
    rows.push_back(std::move(row));
  }
  return new LinearPrior(kNudgeSize, std::move(rows));
}

// Levels first: the median over samples of what brings each scan's lightness right under the prior look.
void StartOffsets(const FilmSession& session, FilmFit& fit) {
  std::vector<std::vector<double>> shift(session.lights.size());
  for (const FilmSample& s : session.samples) {
    double low = -2.5, high = 2.5;
    for (int i = 0; i < 24; ++i) {
      const double mid = 0.5 * (low + high);
      const Vec3 lab = PredictLab(fit.common, {mid, mid, mid}, s.scene);
      (lab[0] < s.lab[0] ? low : high) = mid;
    }
    if (s.lab[0] > 8 && s.lab[0] < 92) shift[session.scans[s.scan].light].push_back(0.5 * (low + high));
  }
  for (std::size_t l = 0; l < shift.size(); ++l) {
    if (shift[l].empty()) {
      fit.light[l] = session.lights[l].mean;
      continue;
    }
    const double middle = Median(shift[l]);
    fit.light[l] = {middle, middle, middle};
  }
}

class StopWhenAsked final : public ceres::IterationCallback {
 public:
  explicit StopWhenAsked(const Cancel& cancel) : cancel_(cancel) {}
  ceres::CallbackReturnType operator()(const ceres::IterationSummary&) override {
    return cancel_.requested() ? ceres::SOLVER_ABORT : ceres::SOLVER_CONTINUE;
  }

 private:
  Cancel cancel_;
};

// Covariance of the lights' offsets: inverse of the normal matrix at the solution, loss included.
void LightCovariance(ceres::Problem& problem, FilmFit& fit) {
  ceres::Problem::EvaluateOptions options;
  std::vector<double*> blocks;
  problem.GetParameterBlocks(&blocks);
  options.parameter_blocks = blocks;
  options.num_threads = Workers();
  ceres::CRSMatrix j;
  problem.Evaluate(options, nullptr, nullptr, nullptr, &j);
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(j.num_cols, j.num_cols);
  for (int r = 0; r < j.num_rows; ++r)
    for (int a = j.rows[r]; a < j.rows[r + 1]; ++a)
      for (int b = j.rows[r]; b < j.rows[r + 1]; ++b)
        normal(j.cols[a], j.cols[b]) += j.values[a] * j.values[b];
  normal.diagonal().array() += 1e-9;
  const Eigen::MatrixXd inverse = normal.ldlt().solve(Eigen::MatrixXd::Identity(j.num_cols, j.num_cols));
  int column = 0;
  for (double* block : blocks) {
    for (std::size_t l = 0; l < fit.light.size(); ++l)
      if (block == fit.light[l].data())
        for (int a = 0; a < 3; ++a)
          for (int b = 0; b < 3; ++b) fit.light_covariance[l][a][b] = inverse(column + a, column + b);
    column += problem.ParameterBlockSize(block);
  }
}

}  // namespace

LookVector FilmFit::RollLook(int roll_index) const {
  LookVector l = common;
  for (int i = 0; i < kLookSize; ++i) l[i] += roll[roll_index][i];
  return l;
}

LookVector FilmFit::MeanLook(const std::vector<FilmSession::Scan>& scans) const {
  LookVector l = common;
  for (const FilmSession::Scan& s : scans)
    for (int i = 0; i < kLookSize; ++i) l[i] += roll[s.roll][i] / static_cast<double>(scans.size());
  return l;
}

Vec3 PredictLab(const LookVector& look, const Vec3& offset_log10, const Vec3& scene) {
  Vec3 lab;
  Predict<double>(look.data(), offset_log10.data(), 0.0, 0.0, scene, lab.data());
  return lab;
}

FilmFit FitFilm(const FilmSession& session, const FilmFit* start, const Cancel& cancel) {
  FilmFit fit;
  if (start != nullptr) {
    fit = *start;
  } else {
    fit.common = LookPriorMean();
    fit.roll.assign(static_cast<std::size_t>(session.rolls), LookVector{});
    fit.light.assign(session.lights.size(), Vec3{0, 0, 0});
    fit.nudge.assign(session.scans.size(), {});
    StartOffsets(session, fit);
  }
  fit.light_covariance.assign(session.lights.size(), Mat3{});

  std::vector<double> total(session.scans.size(), 0);
  for (const FilmSample& s : session.samples) total[s.scan] += s.weight;

  ceres::Problem problem;
  for (const FilmSample& s : session.samples) {
    const FilmSession::Scan& scan = session.scans[s.scan];
    const double weight = kScanWeight * s.weight / total[s.scan];
    problem.AddResidualBlock(
        new SampleCost(s),
        new ceres::ScaledLoss(new ceres::CauchyLoss(kLossScale), weight, ceres::TAKE_OWNERSHIP),
        fit.common.data(), fit.roll[scan.roll].data(), fit.light[scan.light].data(),
        fit.nudge[s.scan].data());
  }
  if (!problem.HasParameterBlock(fit.common.data())) return fit;
  const LookVector sigma = LookPriorSigma();
  problem.AddResidualBlock(DiagonalPrior(LookPriorMean(), sigma, 1), nullptr, fit.common.data());
  for (LookVector& r : fit.roll)
    if (problem.HasParameterBlock(r.data()))
      problem.AddResidualBlock(DiagonalPrior(LookVector{}, sigma, kRollShare), nullptr, r.data());
  for (std::size_t l = 0; l < fit.light.size(); ++l)
    if (problem.HasParameterBlock(fit.light[l].data()))
      problem.AddResidualBlock(new LinearPrior(3, OffsetRows(3, session.lights[l])), nullptr,
                               fit.light[l].data());
  for (auto& n : fit.nudge)
    if (problem.HasParameterBlock(n.data())) problem.AddResidualBlock(NudgePrior(), nullptr, n.data());
  // Ranges that keep every solution usable.
  for (int c = 0; c < 3; ++c) {
    const int q = kLayerStart + 5 * c;
    problem.SetParameterLowerBound(fit.common.data(), q, 0.6);
    problem.SetParameterUpperBound(fit.common.data(), q, 3.0);
    problem.SetParameterUpperBound(fit.common.data(), q + 1, -1.0);
    problem.SetParameterLowerBound(fit.common.data(), q + 1, -3.5);
  }

  StopWhenAsked stop(cancel);
  ceres::Solver::Options options;
  options.max_num_iterations = 40;
  options.function_tolerance = 1e-5;
  options.linear_solver_type = ceres::SPARSE_NORMAL_CHOLESKY;
  options.num_threads = Workers();
  options.logging_type = ceres::SILENT;
  options.callbacks.push_back(&stop);
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  fit.usable = summary.IsSolutionUsable() && !cancel.requested();
  if (!fit.usable) return fit;
  LightCovariance(problem, fit);
  return fit;
}

}  // namespace samelight::solve
