#include "solve/film_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/median.h"
#include "base/task_pool.h"
#include "solve/film_equations.h"
#include "solve/hold_grey.h"

namespace samelight::solve {
namespace {

constexpr double kLossScale = 2.5;  // CIELAB units, Cauchy
constexpr double kScanWeight = 25;  // each scan counts as so many independent samples of one CIELAB unit
constexpr double kNudgeContrast = 0.04;
// A nudge beyond three usual ones is another thing than a nudge (a slip of the operator, the wrong frame on
// the masking frame): the light goes with the other scans.
constexpr double kUnusualNudge = 9;  // squared, in usual ones
constexpr double kNudgeBlack = 0.08;
constexpr double kPart = 0.3, kPartSigma = 0.3;  // of a picture's content taken back by the lab
constexpr double kEnough = 1e-5;                 // relative decrease of the cost

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;

Eigen::Map<Matrix> MatrixOf(EquationBlock& block) {
  const auto size = static_cast<Eigen::Index>(block.gradient.size());
  return {block.matrix.data(), size, size};
}
Eigen::Map<Vector> GradientOf(EquationBlock& block) {
  return {block.gradient.data(), static_cast<Eigen::Index>(block.gradient.size())};
}

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
  Fitter(const FilmSession& session, const Cancel& cancel, bool hold_looks = false)
      : session_(session),
        cancel_(cancel),
        hold_looks_(hold_looks),
        at_{session.rolls},
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
      const FilmEquations equations = Linearise(fit);
      for (int attempt = 0; attempt < 12; ++attempt) {
        FilmFit tried = fit;
        Move(StepOf(session_, equations, damping, hold_looks_), tried);
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

  // Of the numbers at the solution, loss included.
  void Covariance(FilmFit& fit) const { Invert(session_, Linearise(fit), fit); }

 private:
  PredictVector Numbers(const FilmFit& fit, std::size_t i) const {
    const FilmSession::Scan& scan = session_.scans[i];
    PredictVector p;
    const LookVector look = fit.LookOf(scan.roll, scan.light);
    const Vec3 offset = fit.OffsetOf(scan.roll, scan.light);
    std::copy(look.begin(), look.end(), p.begin());
    for (int c = 0; c < 3; ++c)
      p[kOffsetAt + c] = offset[c] + scan.place * fit.trend[scan.light][c] - fit.level_part * scan.level -
                         fit.grey_part * scan.grey[c] + fit.nudge[i][c];
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
    FilmEquations ignored(session_, 0);
    AddPriors(fit, ignored, cost);
    for (std::size_t i = 0; i < fit.nudge.size(); ++i) {
      EquationBlock own(kNudgeSize);
      AddNudgePrior(session_.scans[i], fit.nudge[i], own, cost);
    }
    return std::isfinite(cost) ? cost : 1e300;
  }

  // Of the offsets by a Cauchy loss, re-weighted: the consensus of a light's scans is robust.
  static void AddNudgePrior(const FilmSession::Scan& scan, const std::array<double, kNudgeSize>& n,
                            EquationBlock& nudge, double& cost) {
    Eigen::Matrix3d offsets = Eigen::Matrix3d::Zero();
    Eigen::Vector3d pull = Eigen::Vector3d::Zero();
    double half_square = 0;
    AddOffsetPrior(NudgePrior(scan), {n[0], n[1], n[2]}, offsets, pull, half_square);
    const double weight = 1 / (1 + 2 * half_square / kUnusualNudge);
    auto h = MatrixOf(nudge);
    auto g = GradientOf(nudge);
    h.topLeftCorner<3, 3>() += weight * offsets;
    g.head<3>() += weight * pull;
    cost += 0.5 * kUnusualNudge * std::log1p(2 * half_square / kUnusualNudge);
    for (const auto& [k, sigma] : {std::pair(3, kNudgeContrast), std::pair(4, kNudgeBlack)}) {
      h(k, k) += 1 / (sigma * sigma);
      g[k] += n[k] / (sigma * sigma);
      cost += 0.5 * n[k] * n[k] / (sigma * sigma);
    }
  }

  // Of numbers that lie around zero, or around `mean`, with this inverse covariance.
  static void AddBelief(const Matrix& information, const Vector& away, Eigen::Ref<Matrix> h,
                        Eigen::Ref<Vector> g, double& cost) {
    const Vector pull = information * away;
    h += information;
    g += pull;
    cost += 0.5 * away.dot(pull);
  }

  void AddPriors(const FilmFit& fit, FilmEquations& e, double& cost) const {
    const auto looks = [&](int at, const Matrix& information, const Vector& away) {
      AddBelief(information, away, MatrixOf(e.looks).block(at, at, kLookSize, kLookSize),
                GradientOf(e.looks).segment(at, kLookSize), cost);
    };
    const LookBelief& before = session_.before;
    looks(at_.Common(), Eigen::Map<const Matrix>(before.information.data(), kLookSize, kLookSize),
          Numbers(fit.common) - Numbers(before.mean));
    static const Matrix stray =
        Eigen::Map<const Matrix>(LookPriorInformation(kLookShare).data(), kLookSize, kLookSize);
    for (int r = 0; r < at_.rolls; ++r) looks(at_.Roll(r), stray, Numbers(fit.roll[r]));
    const auto part = [&](int at, double value) {
      const double d = value - kPart;
      MatrixOf(e.looks)(at, at) += 1 / (kPartSigma * kPartSigma);
      GradientOf(e.looks)[at] += d / (kPartSigma * kPartSigma);
      cost += 0.5 * d * d / (kPartSigma * kPartSigma);
    };
    part(at_.Content(), fit.level_part);
    part(at_.Content() + 1, fit.grey_part);
    for (std::size_t l = 0; l < e.lights.size(); ++l) {
      auto h = MatrixOf(e.lights[l]);
      auto g = GradientOf(e.lights[l]);
      AddOffsetPrior(session_.lights[l], fit.light[l], h.block<3, 3>(0, 0), g.segment<3>(0), cost);
      AddOffsetPrior(session_.trends[l], fit.trend[l], h.block<3, 3>(kLightTrend, kLightTrend),
                     g.segment<3>(kLightTrend), cost);
      AddBelief(stray, Numbers(fit.light_look[l]), h.block<kLookSize, kLookSize>(kLightLook, kLightLook),
                g.segment<kLookSize>(kLightLook), cost);
    }
  }
  static Vector Numbers(const LookVector& look) { return Eigen::Map<const Vector>(look.data(), kLookSize); }

  // Normal equations around `fit`, with the loss as weights.
  FilmEquations Linearise(const FilmFit& fit) const {
    FilmEquations equations(session_, samples_.size());
    ParallelFor(samples_.size(), {}, [&](std::size_t i) { LineariseScan(fit, i, equations.scans[i]); });
    double ignored = 0;
    AddPriors(fit, equations, ignored);
    return equations;
  }

  void LineariseScan(const FilmFit& fit, std::size_t i, FilmEquations::OfScan& out) const {
    const PredictVector p = Numbers(fit, i);
    Eigen::Map<Eigen::Matrix<double, kPredictSize, kPredictSize>> matrix(out.prediction.matrix.data());
    Eigen::Map<Eigen::Matrix<double, kPredictSize, 1>> gradient(out.prediction.gradient.data());
    PredictJacobian j;
    for (const FilmSample* s : samples_[i]) {
      double ease;
      const Vec3 r = Residual(*s, PredictLab(p, s->scene, j), ease);
      const double square = r[0] * r[0] + r[1] * r[1] + r[2] * r[2];
      const double weight = scale_[i] * s->weight / (1 + square / (kLossScale * kLossScale));
      Eigen::Matrix<double, 3, kPredictSize> rows;
      for (int k = 0; k < 3; ++k)
        for (int q = 0; q < kPredictSize; ++q) rows(k, q) = j[k][q] * (k == 0 ? 1 : ease);
      matrix.noalias() += weight * rows.transpose() * rows;
      gradient.noalias() += rows.transpose() * (weight * Eigen::Vector3d(r[0], r[1], r[2]));
    }
    double ignored = 0;
    AddNudgePrior(session_.scans[i], fit.nudge[i], out.nudge, ignored);
  }

  void Move(const FilmStep& step, FilmFit& fit) const {
    for (std::size_t i = 0; i < fit.nudge.size(); ++i)
      for (int k = 0; k < kNudgeSize; ++k) fit.nudge[i][k] += step.nudges[i][k];
    for (int k = 0; k < kLookSize; ++k) {
      fit.common[k] += step.looks[at_.Common() + k];
      for (int r = 0; r < at_.rolls; ++r) fit.roll[r][k] += step.looks[at_.Roll(r) + k];
    }
    // Ranges that keep every solution usable.
    for (int c = 0; c < 3; ++c) {
      double* q = fit.common.data() + kLayerStart + 5 * c;
      q[0] = std::clamp(q[0], 0.6, 3.0);
      q[1] = std::clamp(q[1], -3.5, -1.0);
    }
    fit.level_part += step.looks[at_.Content()];
    fit.grey_part += step.looks[at_.Content() + 1];
    for (std::size_t l = 0; l < fit.light.size(); ++l) {
      for (int c = 0; c < 3; ++c) {
        fit.light[l][c] += step.lights[l][c];
        fit.trend[l][c] += step.lights[l][kLightTrend + c];
      }
      for (int k = 0; k < kLookSize; ++k) fit.light_look[l][k] += step.lights[l][kLightLook + k];
    }
  }

  const FilmSession& session_;
  Cancel cancel_;
  bool hold_looks_;
  LooksLayout at_;
  std::vector<std::vector<const FilmSample*>> samples_;  // by scan
  std::vector<double> scale_;                            // of a scan's weights
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

// With the samples of the lights apart alone, or of all others.
FilmSession OnlySamples(const FilmSession& session, bool apart) {
  FilmSession out = session;
  std::erase_if(out.samples,
                [&](const FilmSample& s) { return session.scans[s.scan].own_light_only != apart; });
  return out;
}

// The numbers of the lights apart, and their scans' nudges.
void TakeApart(const FilmSession& session, const FilmFit& from, FilmFit& to) {
  for (const int l : session.LightsApart()) {
    to.light[l] = from.light[l];
    to.trend[l] = from.trend[l];
    to.light_look[l] = from.light_look[l];
  }
  for (std::size_t i = 0; i < session.scans.size(); ++i)
    if (session.scans[i].own_light_only) to.nudge[i] = from.nudge[i];
}

}  // namespace

FilmFit FilmFit::Start(const FilmSession& session) {
  FilmFit fit;
  fit.common = session.before.mean;
  fit.level_part = fit.grey_part = kPart;
  fit.roll.assign(static_cast<std::size_t>(session.rolls), LookVector{});
  fit.light_look.assign(session.lights.size(), LookVector{});
  fit.light.assign(session.lights.size(), Vec3{0, 0, 0});
  fit.trend.assign(session.lights.size(), Vec3{0, 0, 0});
  fit.nudge.assign(session.scans.size(), {});
  return fit;
}

LookVector FilmFit::LookOf(int roll_index, int light_index) const {
  LookVector look = common;
  for (int i = 0; i < kLookSize; ++i) look[i] += roll[roll_index][i] + light_look[light_index][i];
  return look;
}

Vec3 FilmFit::OffsetOf(int roll_index, int light_index) const {
  LookVector stray = roll[roll_index];
  for (int i = 0; i < kLookSize; ++i) stray[i] += light_look[light_index][i];
  Vec3 offset = HoldGrey(stray);
  for (int c = 0; c < 3; ++c) offset[c] += light[light_index][c];
  return offset;
}

std::set<int> FilmSession::LightsApart() const {
  std::set<int> apart;
  for (const Scan& scan : scans)
    if (scan.own_light_only) apart.insert(scan.light);
  return apart;
}

FilmFit FitFilm(const FilmSession& session, const FilmFit* start, const Cancel& cancel, int most_rounds) {
  FilmFit fit = start != nullptr ? *start : FilmFit::Start(session);
  fit.usable = false;
  fit.looks_covariance.clear();
  fit.light_covariance.clear();
  if (start == nullptr) StartOffsets(session, fit);
  const FilmFit begun = fit;
  const FilmSession shared = OnlySamples(session, false);
  if (shared.samples.empty()) return fit;
  Fitter(shared, cancel).Run(fit, most_rounds);
  const FilmSession own = OnlySamples(session, true);
  if (!fit.usable || own.samples.empty()) return fit;
  FilmFit apart = fit;
  TakeApart(session, begun, apart);
  Fitter(own, cancel, true).Run(apart, most_rounds);
  TakeApart(session, apart, fit);
  fit.usable = apart.usable;
  return fit;
}

void FindCovariance(const FilmSession& session, FilmFit& fit) {
  Fitter(OnlySamples(session, false), {}).Covariance(fit);
  const std::set<int> lights = session.LightsApart();
  if (lights.empty()) return;
  FilmFit all = fit;
  Fitter(session, {}).Covariance(all);
  for (const int l : lights) fit.light_covariance[l] = all.light_covariance[l];
}

}  // namespace samelight::solve
