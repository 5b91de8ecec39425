#include "solve/film_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/median.h"
#include "base/task_pool.h"

namespace samelight::solve {
namespace {

constexpr double kLossScale = 2.5;   // CIELAB units, Cauchy
constexpr double kScanWeight = 25;   // each scan counts as so many independent samples of one CIELAB unit
constexpr double kRollShare = 0.30;  // how far a roll's look strays from the common one, in prior deviations
constexpr double kNudgeContrast = 0.04;
// A nudge beyond three usual ones is another thing than a nudge (a slip of the operator, the wrong frame on
// the masking frame): the light goes with the other scans.
constexpr double kUnusualNudge = 9;  // squared, in usual ones
constexpr double kNudgeBlack = 0.08;
constexpr double kPart = 0.3, kPartSigma = 0.3;  // of a picture's content taken back by the lab
constexpr double kEnough = 1e-5;                 // relative decrease of the cost

// What one scan's prediction is made of: common look, content parts, roll's difference, light's
// offsets and trend; and, apart from these, its nudge.
constexpr int kContentSize = 2, kLightSize = 6;
constexpr int kSharedSize = kLookSize + kContentSize + kLookSize + kLightSize;

// Where the shared numbers of the fit stand in one list.
struct Layout {
  int rolls = 0, lights = 0;
  static constexpr int Common() { return 0; }
  static constexpr int Content() { return kLookSize; }
  int Roll(int r) const { return kLookSize + kContentSize + kLookSize * r; }
  int Light(int l) const { return kLookSize + kContentSize + kLookSize * rolls + kLightSize * l; }
  int size() const { return Light(lights); }
};

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;
using Nudge = Eigen::Matrix<double, kNudgeSize, 1>;
using NudgeMatrix = Eigen::Matrix<double, kNudgeSize, kNudgeSize>;

// Normal equations of a Gaussian belief about three offsets.
void AddOffsetPrior(const OffsetPrior& prior, const Vec3& value, Eigen::Ref<Eigen::Matrix3d> h,
                    Eigen::Ref<Eigen::Vector3d> g, double& cost) {
  const Eigen::Vector3d d(value[0] - prior.mean[0], value[1] - prior.mean[1], value[2] - prior.mean[2]);
  const auto add = [&](const Eigen::Vector3d& row, double sigma) {
    const double r = row.dot(d) / sigma;
    h += row * row.transpose() / (sigma * sigma);
    g += row * r / sigma;
    cost += 0.5 * r * r;
  };
  add({1.0 / 3, 1.0 / 3, 1.0 / 3}, prior.level_sigma);
  add({1, -1, 0}, prior.colour_sigma);
  add({0, -1, 1}, prior.colour_sigma);
}

OffsetPrior NudgePrior(const FilmSession::Scan& scan) {
  const double wider = 1 / std::sqrt(scan.confidence);
  const double level = scan.loose ? std::hypot(kNudgeLevel, kLooseLevel) : kNudgeLevel;
  const double colour = scan.loose ? std::hypot(kNudgeColour, kLooseColour) : kNudgeColour;
  return {{0, 0, 0}, wider * level, wider * colour * 1.4142135623730951};
}

class Fitter {
 public:
  Fitter(const FilmSession& session, const Cancel& cancel)
      : session_(session),
        cancel_(cancel),
        at_{session.rolls, static_cast<int>(session.lights.size())},
        samples_(session.scans.size()),
        scale_(session.scans.size(), 0) {
    for (const FilmSample& s : session.samples) {
      samples_[s.scan].push_back(&s);
      scale_[s.scan] += s.weight;
    }
    for (std::size_t i = 0; i < scale_.size(); ++i)
      scale_[i] =
          scale_[i] > 0 ? kScanWeight * session.scans[i].trust * session.scans[i].confidence / scale_[i] : 0;
  }

  void Run(FilmFit& fit, int most_rounds) {
    double damping = 1e-3, cost = Cost(fit);
    bool settled = false;
    for (int round = 0; round < most_rounds && !settled; ++round) {
      if (cancel_.requested()) return;
      Linearise(fit);
      for (int attempt = 0; attempt < 12; ++attempt) {
        FilmFit tried = fit;
        Step(damping, tried);
        const double now = Cost(tried);
        if (now < cost) {
          settled = now > cost * (1 - kEnough);
          fit = tried;
          cost = now;
          damping = std::max(1e-9, damping * 0.2);
          break;
        }
        damping *= 5;
        settled = attempt == 11;
      }
    }
    fit.usable = std::isfinite(cost) && !cancel_.requested();
  }

  // Inverse of the normal matrix at the solution, loss included.
  void Covariance(FilmFit& fit) {
    Linearise(fit);
    Matrix h;
    Vector g;
    Reduce(0, h, g);
    const Matrix inverse = h.ldlt().solve(Matrix::Identity(at_.size(), at_.size()));
    std::vector<int> place;
    for (int k = 0; k < kLookSize; ++k) place.push_back(at_.Common() + k);
    for (int k = 0; k < kLookSize * at_.rolls; ++k) place.push_back(at_.Roll(0) + k);
    for (int l = 0; l < at_.lights; ++l)
      for (int c = 0; c < 3; ++c) place.push_back(at_.Light(l) + c);
    fit.covariance.clear();
    for (const int a : place)
      for (const int b : place) fit.covariance.push_back(inverse(a, b));
  }

 private:
  struct OfScan {
    Eigen::Matrix<double, kSharedSize, kSharedSize> shared;
    Eigen::Matrix<double, kSharedSize, 1> gradient;
    Eigen::Matrix<double, kSharedSize, kNudgeSize> cross;
    NudgeMatrix own;
    Nudge own_gradient;
  };

  PredictVector Numbers(const FilmFit& fit, std::size_t i) const {
    const FilmSession::Scan& scan = session_.scans[i];
    PredictVector p;
    for (int k = 0; k < kLookSize; ++k) p[k] = fit.common[k] + fit.roll[scan.roll][k];
    for (int c = 0; c < 3; ++c)
      p[kOffsetAt + c] = fit.light[scan.light][c] + scan.place * fit.trend[scan.light][c] -
                         fit.level_part * scan.level - fit.grey_part * scan.grey[c] + fit.nudge[i][c];
    p[kContrastAt] = fit.nudge[i][3];
    p[kBlackAt] = fit.nudge[i][4];
    return p;
  }

  static Vec3 Residual(const FilmSample& s, const Vec3& lab, double& ease) {
    ease = 1 / (1 + 0.035 * std::hypot(s.lab[1], s.lab[2]));
    return {lab[0] - s.lab[0], (lab[1] - s.lab[1]) * ease, (lab[2] - s.lab[2]) * ease};
  }

  double Cost(const FilmFit& fit) const {
    std::vector<double> part(samples_.size(), 0);
    ParallelFor(samples_.size(), {}, [&](std::size_t i) {
      const PredictVector p = Numbers(fit, i);
      for (const FilmSample* s : samples_[i]) {
        double ease;
        const Vec3 r = Residual(*s, PredictLab(p, s->scene), ease);
        const double square = r[0] * r[0] + r[1] * r[1] + r[2] * r[2];
        part[i] += 0.5 * scale_[i] * s->weight * kLossScale * kLossScale *
                   std::log1p(square / (kLossScale * kLossScale));
      }
    });
    double cost = 0;
    for (double v : part) cost += v;
    Matrix h = Matrix::Zero(at_.size(), at_.size());
    Vector g = Vector::Zero(at_.size());
    AddPriors(fit, h, g, cost);
    for (std::size_t i = 0; i < fit.nudge.size(); ++i) {
      NudgeMatrix own = NudgeMatrix::Zero();
      Nudge own_gradient = Nudge::Zero();
      AddNudgePrior(session_.scans[i], fit.nudge[i], own, own_gradient, cost);
    }
    return std::isfinite(cost) ? cost : 1e300;
  }

  // Of the offsets by a Cauchy loss, re-weighted: the consensus of a light's scans is robust.
  static void AddNudgePrior(const FilmSession::Scan& scan, const std::array<double, kNudgeSize>& n,
                            NudgeMatrix& h, Nudge& g, double& cost) {
    Eigen::Matrix3d offsets = Eigen::Matrix3d::Zero();
    Eigen::Vector3d pull = Eigen::Vector3d::Zero();
    double half_square = 0;
    AddOffsetPrior(NudgePrior(scan), {n[0], n[1], n[2]}, offsets, pull, half_square);
    const double weight = 1 / (1 + 2 * half_square / kUnusualNudge);
    h.topLeftCorner<3, 3>() += weight * offsets;
    g.head<3>() += weight * pull;
    cost += 0.5 * kUnusualNudge * std::log1p(2 * half_square / kUnusualNudge);
    for (const auto& [k, sigma] : {std::pair(3, kNudgeContrast), std::pair(4, kNudgeBlack)}) {
      h(k, k) += 1 / (sigma * sigma);
      g[k] += n[k] / (sigma * sigma);
      cost += 0.5 * n[k] * n[k] / (sigma * sigma);
    }
  }

  void AddPriors(const FilmFit& fit, Matrix& h, Vector& g, double& cost) const {
    const auto add = [&](int k, double d, double sigma) {
      h(k, k) += 1 / (sigma * sigma);
      g[k] += d / (sigma * sigma);
      cost += 0.5 * d * d / (sigma * sigma);
    };
    const LookBelief& before = session_.before;
    const Eigen::Map<const Matrix> information(before.information.data(), kLookSize, kLookSize);
    Vector away(kLookSize);
    for (int k = 0; k < kLookSize; ++k) away[k] = fit.common[k] - before.mean[k];
    const Vector pull = information * away;
    h.block(at_.Common(), at_.Common(), kLookSize, kLookSize) += information;
    g.segment(at_.Common(), kLookSize) += pull;
    cost += 0.5 * away.dot(pull);
    static const LookVector sigma = LookPriorSigma();
    for (int k = 0; k < kLookSize; ++k) {
      for (int r = 0; r < at_.rolls; ++r) add(at_.Roll(r) + k, fit.roll[r][k], sigma[k] * kRollShare);
    }
    add(at_.Content(), fit.level_part - kPart, kPartSigma);
    add(at_.Content() + 1, fit.grey_part - kPart, kPartSigma);
    for (int l = 0; l < at_.lights; ++l) {
      const int k = at_.Light(l);
      AddOffsetPrior(session_.lights[l], fit.light[l], h.block<3, 3>(k, k), g.segment<3>(k), cost);
      AddOffsetPrior(session_.trends[l], fit.trend[l], h.block<3, 3>(k + 3, k + 3), g.segment<3>(k + 3),
                     cost);
    }
  }

  // Normal equations around `fit`, with the loss as weights.
  void Linearise(const FilmFit& fit) {
    scans_.resize(samples_.size());
    ParallelFor(samples_.size(), {}, [&](std::size_t i) { LineariseScan(fit, i); });
    h_ = Matrix::Zero(at_.size(), at_.size());
    g_ = Vector::Zero(at_.size());
    double ignored = 0;
    AddPriors(fit, h_, g_, ignored);
  }

  void LineariseScan(const FilmFit& fit, std::size_t i) {
    const PredictVector p = Numbers(fit, i);
    Eigen::Matrix<double, kPredictSize, kPredictSize> h =
        Eigen::Matrix<double, kPredictSize, kPredictSize>::Zero();
    Eigen::Matrix<double, kPredictSize, 1> g = Eigen::Matrix<double, kPredictSize, 1>::Zero();
    PredictJacobian j;
    for (const FilmSample* s : samples_[i]) {
      double ease;
      const Vec3 r = Residual(*s, PredictLab(p, s->scene, j), ease);
      const double square = r[0] * r[0] + r[1] * r[1] + r[2] * r[2];
      const double weight = scale_[i] * s->weight / (1 + square / (kLossScale * kLossScale));
      Eigen::Matrix<double, 3, kPredictSize> rows;
      for (int k = 0; k < 3; ++k)
        for (int q = 0; q < kPredictSize; ++q) rows(k, q) = j[k][q] * (k == 0 ? 1 : ease);
      h.noalias() += weight * rows.transpose() * rows;
      g.noalias() += rows.transpose() * (weight * Eigen::Vector3d(r[0], r[1], r[2]));
    }
    // From the numbers of a prediction to the numbers that it is made of.
    const FilmSession::Scan& scan = session_.scans[i];
    Eigen::Matrix<double, kPredictSize, kSharedSize> shared =
        Eigen::Matrix<double, kPredictSize, kSharedSize>::Zero();
    Eigen::Matrix<double, kPredictSize, kNudgeSize> own =
        Eigen::Matrix<double, kPredictSize, kNudgeSize>::Zero();
    for (int k = 0; k < kLookSize; ++k) shared(k, k) = shared(k, kLookSize + kContentSize + k) = 1;
    for (int c = 0; c < 3; ++c) {
      shared(kOffsetAt + c, kLookSize) = -scan.level;
      shared(kOffsetAt + c, kLookSize + 1) = -scan.grey[c];
      shared(kOffsetAt + c, kSharedSize - kLightSize + c) = 1;
      shared(kOffsetAt + c, kSharedSize - 3 + c) = scan.place;
      own(kOffsetAt + c, c) = 1;
    }
    own(kContrastAt, 3) = own(kBlackAt, 4) = 1;
    OfScan& out = scans_[i];
    out.shared.noalias() = shared.transpose() * h * shared;
    out.gradient.noalias() = shared.transpose() * g;
    out.cross.noalias() = shared.transpose() * h * own;
    out.own.noalias() = own.transpose() * h * own;
    out.own_gradient.noalias() = own.transpose() * g;
    double ignored = 0;
    AddNudgePrior(scan, fit.nudge[i], out.own, out.own_gradient, ignored);
  }

  // Where the shared numbers of a scan stand in the whole list.
  std::array<int, kSharedSize> Places(std::size_t i) const {
    const FilmSession::Scan& scan = session_.scans[i];
    std::array<int, kSharedSize> at;
    for (int k = 0; k < kLookSize + kContentSize; ++k) at[k] = k;
    for (int k = 0; k < kLookSize; ++k) at[kLookSize + kContentSize + k] = at_.Roll(scan.roll) + k;
    for (int k = 0; k < kLightSize; ++k) at[kSharedSize - kLightSize + k] = at_.Light(scan.light) + k;
    return at;
  }

  // The equations of the shared numbers with every scan's nudge eliminated; `damping` is added to the
  // diagonals in proportion.
  void Reduce(double damping, Matrix& h, Vector& g) const {
    h = h_;
    g = g_;
    for (std::size_t i = 0; i < scans_.size(); ++i) {
      const OfScan& s = scans_[i];
      NudgeMatrix own = s.own;
      own.diagonal() *= 1 + damping;
      const Eigen::Matrix<double, kNudgeSize, kSharedSize> solved = own.ldlt().solve(s.cross.transpose());
      const Eigen::Matrix<double, kSharedSize, kSharedSize> part = s.shared - s.cross * solved;
      const Eigen::Matrix<double, kSharedSize, 1> gradient = s.gradient - solved.transpose() * s.own_gradient;
      const auto at = Places(i);
      for (int a = 0; a < kSharedSize; ++a) {
        g[at[a]] += gradient[a];
        h(at[a], at[a]) += damping * s.shared(a, a);
        for (int b = 0; b < kSharedSize; ++b) h(at[a], at[b]) += part(a, b);
      }
    }
    h.diagonal() += damping * h_.diagonal();
  }

  void Step(double damping, FilmFit& fit) const {
    Matrix h;
    Vector g;
    Reduce(damping, h, g);
    const Vector step = -h.ldlt().solve(g);
    for (std::size_t i = 0; i < scans_.size(); ++i) {
      const OfScan& s = scans_[i];
      Eigen::Matrix<double, kSharedSize, 1> shared;
      const auto at = Places(i);
      for (int a = 0; a < kSharedSize; ++a) shared[a] = step[at[a]];
      NudgeMatrix own = s.own;
      own.diagonal() *= 1 + damping;
      const Nudge n = -own.ldlt().solve(s.own_gradient + s.cross.transpose() * shared);
      for (int k = 0; k < kNudgeSize; ++k) fit.nudge[i][k] += n[k];
    }
    for (int k = 0; k < kLookSize; ++k) {
      fit.common[k] += step[at_.Common() + k];
      for (int r = 0; r < at_.rolls; ++r) fit.roll[r][k] += step[at_.Roll(r) + k];
    }
    // Ranges that keep every solution usable.
    for (int c = 0; c < 3; ++c) {
      double* q = fit.common.data() + kLayerStart + 5 * c;
      q[0] = std::clamp(q[0], 0.6, 3.0);
      q[1] = std::clamp(q[1], -3.5, -1.0);
    }
    fit.level_part += step[at_.Content()];
    fit.grey_part += step[at_.Content() + 1];
    for (int l = 0; l < at_.lights; ++l)
      for (int c = 0; c < 3; ++c) {
        fit.light[l][c] += step[at_.Light(l) + c];
        fit.trend[l][c] += step[at_.Light(l) + 3 + c];
      }
  }

  const FilmSession& session_;
  Cancel cancel_;
  Layout at_;
  std::vector<std::vector<const FilmSample*>> samples_;  // by scan
  std::vector<double> scale_;                            // of a scan's weights
  std::vector<OfScan> scans_;
  Matrix h_;
  Vector g_;
};

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

}  // namespace

LookVector FilmFit::RollLook(int roll_index) const {
  LookVector l = common;
  for (int i = 0; i < kLookSize; ++i) l[i] += roll[roll_index][i];
  return l;
}

FilmFit FitFilm(const FilmSession& session, const FilmFit* start, const Cancel& cancel, int most_rounds) {
  FilmFit fit;
  if (start != nullptr) {
    fit = *start;
    fit.usable = false;
    fit.covariance.clear();
  } else {
    fit.common = session.before.mean;
    fit.level_part = fit.grey_part = kPart;
    fit.roll.assign(static_cast<std::size_t>(session.rolls), LookVector{});
    fit.light.assign(session.lights.size(), Vec3{0, 0, 0});
    fit.trend.assign(session.lights.size(), Vec3{0, 0, 0});
    fit.nudge.assign(session.scans.size(), {});
    StartOffsets(session, fit);
  }
  if (!session.samples.empty()) Fitter(session, cancel).Run(fit, most_rounds);
  return fit;
}

void FindCovariance(const FilmSession& session, FilmFit& fit) { Fitter(session, {}).Covariance(fit); }

}  // namespace samelight::solve
