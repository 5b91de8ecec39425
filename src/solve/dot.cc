#include "solve/dot.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace samelight::solve {
namespace {

using record::Handle;

// So many places of each region are enough to choose by; the winner is refined on all of its region.
constexpr std::size_t kPlaces = 40;
constexpr double kOthers = 0.1, kUnlikely = 0.05, kPerHandle = 0.3;
constexpr int kRefinements = 4;

struct Candidate {
  Handle handle;
  double size;  // a usual step of an editor, in a person's units (common practice)
};

double Wider(double size, double sigma) { return std::isfinite(sigma) ? std::hypot(size, sigma) : size; }

std::vector<Candidate> CandidatesFor(record::RegionKind kind, const record::Uncertainty& u) {
  std::vector<Candidate> all = {{Handle::kWarmth, Wider(8, u.handles.warmth_mired)},
                                {Handle::kGreenMagenta, Wider(3, u.handles.green_magenta)}};
  // Strength of all colours moves a grey only where it has a cast, and then everything else much more.
  const bool coloured = kind == record::RegionKind::kSkin || kind == record::RegionKind::kFoliage ||
                        kind == record::RegionKind::kSky;
  if (coloured) all.push_back({Handle::kChroma, 8});
  if (kind == record::RegionKind::kSkin) {
    all.push_back({Handle::kSkinHue, 4});
    all.push_back({Handle::kSkinChroma, 8});
  } else if (kind == record::RegionKind::kFoliage) {
    all.push_back({Handle::kFoliageHue, 6});
    all.push_back({Handle::kFoliageChroma, 10});
  } else if (kind == record::RegionKind::kSky) {
    all.push_back({Handle::kSkyHue, 6});
    all.push_back({Handle::kSkyChroma, 10});
  } else {  // a cast of the darks or of the lights alone
    all.push_back({Handle::kBlackDensity, 0.1});
    all.push_back({Handle::kGamma, 0.05});
  }
  return all;
}

Eigen::Vector3d AsVector(const Vec3& lab) { return {lab[0], lab[1], lab[2]}; }

Eigen::Vector3d Now(const RegionSamples& region, const record::Correction& correction,
                    const record::Handles& touch) {
  record::Correction moved = correction;
  moved.touch = touch;
  return AsVector(LabUnder(region, look::Resolve(moved)));
}

std::vector<Eigen::Vector3d> AllNow(const std::vector<RegionSamples>& regions,
                                    const record::Correction& correction, const record::Handles& touch) {
  record::Correction moved = correction;
  moved.touch = touch;
  const look::Resolved resolved = look::Resolve(moved);
  std::vector<Eigen::Vector3d> now;
  for (const RegionSamples& region : regions) now.push_back(AsVector(LabUnder(region, resolved, kPlaces)));
  return now;
}

record::Handles Stepped(record::Handles touch, Handle handle, double step) {
  record::SetValue(touch, handle, record::ValueOf(touch, handle) + step);
  return touch;
}

class Linear {
 public:
  Linear(const record::Correction& correction, const std::vector<RegionSamples>& regions, std::size_t which,
         double a, double b, std::vector<Candidate> candidates)
      : which_(which), candidates_(std::move(candidates)) {
    const std::vector<Eigen::Vector3d> now = AllNow(regions, correction, correction.touch);
    for (std::size_t r = 0; r < regions.size(); ++r) {
      const Vec3& scan = regions[r].lab_scan;
      away_.push_back(r == which            ? Eigen::Vector3d(0, now[r][1] - a, now[r][2] - b)
                      : regions[r].has_scan ? Eigen::Vector3d(0, now[r][1] - scan[1], now[r][2] - scan[2])
                                            : Eigen::Vector3d::Zero());
    }
    for (const Candidate& c : candidates_) {
      const double step = 0.25 * c.size;
      slope_.push_back(AllNow(regions, correction, Stepped(correction.touch, c.handle, step)));
      for (std::size_t r = 0; r < regions.size(); ++r) slope_.back()[r] = 4 * (slope_.back()[r] - now[r]);
    }
  }

  struct Choice {
    std::vector<int> set;
    Eigen::VectorXd steps;  // in usual steps
    double cost = std::numeric_limits<double>::infinity();
  };
  // Among sets of at least `fewest` handles, 1 or 2.
  Choice Best(int fewest) const {
    Choice best;
    const int n = static_cast<int>(candidates_.size());
    for (int i = 0; i < n; ++i) {
      if (fewest == 1) Try({i}, best);
      for (int j = i + 1; j < n; ++j) Try({i, j}, best);
    }
    return best;
  }
  const Candidate& candidate(int i) const { return candidates_[static_cast<std::size_t>(i)]; }

 private:
  const Eigen::Vector3d& Slope(const std::vector<int>& set, Eigen::Index c, std::size_t region) const {
    return slope_[static_cast<std::size_t>(set[static_cast<std::size_t>(c)])][region];
  }
  void Try(const std::vector<int>& set, Choice& best) const {
    const auto k = static_cast<Eigen::Index>(set.size());
    Eigen::MatrixXd normal = kUnlikely * Eigen::MatrixXd::Identity(k, k);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(k);
    for (std::size_t r = 0; r < away_.size(); ++r) {
      const double weight = r == which_ ? 1 : kOthers;
      Eigen::MatrixXd j(3, k);
      for (Eigen::Index c = 0; c < k; ++c) j.col(c) = Slope(set, c, r);
      normal += weight * j.transpose() * j;
      right -= weight * j.transpose() * away_[r];
    }
    const Eigen::VectorXd steps = normal.ldlt().solve(right);
    double cost = kPerHandle * static_cast<double>(k) + kUnlikely * steps.squaredNorm();
    for (std::size_t r = 0; r < away_.size(); ++r) {
      Eigen::Vector3d d = away_[r];
      const double before = d.squaredNorm();
      for (Eigen::Index c = 0; c < k; ++c) d += steps[c] * Slope(set, c, r);
      cost += r == which_ ? d.squaredNorm() : kOthers * (d.squaredNorm() - before);
    }
    if (cost < best.cost) best = {set, steps, cost};
  }

  std::size_t which_;
  std::vector<Candidate> candidates_;
  std::vector<Eigen::Vector3d> away_;                // CIELAB from its aim, by region; its lightness from now
  std::vector<std::vector<Eigen::Vector3d>> slope_;  // per usual step, by handle and region
};

// A choice made exact: Gauss-Newton on the exact evaluation in its handles alone.
DotMove Refined(const record::Correction& correction, const RegionSamples& region, const Linear& linear,
                const Linear::Choice& choice, double a, double b) {
  DotMove move;
  move.touch = correction.touch;
  for (std::size_t i = 0; i < choice.set.size(); ++i) {
    const Candidate& c = linear.candidate(choice.set[i]);
    move.touch = Stepped(move.touch, c.handle, choice.steps[static_cast<Eigen::Index>(i)] * c.size);
    move.moved.push_back(c.handle);
  }
  const Eigen::Vector3d target(Now(region, correction, correction.touch)[0], a, b);
  Eigen::Vector3d away = Now(region, correction, move.touch) - target;
  for (int round = 0; round < kRefinements && away.norm() > 0.05; ++round) {
    const auto k = static_cast<Eigen::Index>(choice.set.size());
    Eigen::MatrixXd j(3, k);
    for (Eigen::Index c = 0; c < k; ++c) {
      const Candidate& of = linear.candidate(choice.set[static_cast<std::size_t>(c)]);
      j.col(c) =
          10 * (Now(region, correction, Stepped(move.touch, of.handle, 0.1 * of.size)) - target - away);
    }
    const Eigen::VectorXd steps =
        (j.transpose() * j + 1e-3 * Eigen::MatrixXd::Identity(k, k)).ldlt().solve(-j.transpose() * away);
    if (!steps.allFinite()) break;
    record::Handles next = move.touch;
    for (Eigen::Index c = 0; c < k; ++c) {
      const Candidate& of = linear.candidate(choice.set[static_cast<std::size_t>(c)]);
      next = Stepped(next, of.handle, std::clamp(steps[c], -3.0, 3.0) * of.size);
    }
    const Eigen::Vector3d left = Now(region, correction, next) - target;
    if (!(left.norm() < away.norm())) break;
    move.touch = next;
    away = left;
  }
  move.miss = std::hypot(away[1], away[2]);
  return move;
}

}  // namespace

DotMove MoveDot(const record::Correction& correction, const std::vector<RegionSamples>& regions,
                std::size_t which, double a, double b, const record::Uncertainty& uncertainty) {
  // The dot goes where it is pulled: one handle that leaves more than this gets a second, if that helps by
  // half.
  constexpr double kSeen = 0.5;
  const RegionSamples& region = regions[which];
  const Linear linear(correction, regions, which, a, b, CandidatesFor(region.kind, uncertainty));
  const DotMove move = Refined(correction, region, linear, linear.Best(1), a, b);
  if (move.moved.size() != 1 || move.miss <= kSeen) return move;
  const DotMove with_two = Refined(correction, region, linear, linear.Best(2), a, b);
  return with_two.miss < 0.5 * move.miss ? with_two : move;
}

}  // namespace samelight::solve
