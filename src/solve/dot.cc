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

struct Plane {
  double a = 0, b = 0;
};
Plane operator-(Plane p, Plane q) { return {p.a - q.a, p.b - q.b}; }

Plane Now(const RegionSamples& region, const record::Correction& correction, const record::Handles& touch) {
  record::Correction moved = correction;
  moved.touch = touch;
  const Vec3 lab = LabUnder(region, look::Resolve(moved));
  return {lab[1], lab[2]};
}

std::vector<Plane> AllNow(const std::vector<RegionSamples>& regions, const record::Correction& correction,
                          const record::Handles& touch) {
  record::Correction moved = correction;
  moved.touch = touch;
  const look::Resolved resolved = look::Resolve(moved);
  std::vector<Plane> now;
  for (const RegionSamples& region : regions) {
    const Vec3 lab = LabUnder(region, resolved, kPlaces);
    now.push_back({lab[1], lab[2]});
  }
  return now;
}

record::Handles Stepped(record::Handles touch, Handle handle, double step) {
  record::SetValue(touch, handle, record::ValueOf(touch, handle) + step);
  return touch;
}

class Linear {
 public:
  Linear(const record::Correction& correction, const std::vector<RegionSamples>& regions, std::size_t which,
         Plane target, std::vector<Candidate> candidates)
      : which_(which), candidates_(std::move(candidates)) {
    const std::vector<Plane> now = AllNow(regions, correction, correction.touch);
    for (std::size_t r = 0; r < regions.size(); ++r) {
      const Plane aim = r == which            ? target
                        : regions[r].has_scan ? Plane{regions[r].lab_scan[1], regions[r].lab_scan[2]}
                                              : now[r];
      away_.push_back(now[r] - aim);
    }
    for (const Candidate& c : candidates_) {
      const double step = 0.25 * c.size;
      const std::vector<Plane> then = AllNow(regions, correction, Stepped(correction.touch, c.handle, step));
      std::vector<Plane> slope;  // per usual step
      for (std::size_t r = 0; r < regions.size(); ++r) {
        const Plane d = then[r] - now[r];
        slope.push_back({d.a * 4, d.b * 4});
      }
      slope_.push_back(std::move(slope));
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
  void Try(const std::vector<int>& set, Choice& best) const {
    const auto k = static_cast<Eigen::Index>(set.size());
    Eigen::MatrixXd normal = kUnlikely * Eigen::MatrixXd::Identity(k, k);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(k);
    for (std::size_t r = 0; r < away_.size(); ++r) {
      const double weight = r == which_ ? 1 : kOthers;
      Eigen::MatrixXd j(2, k);
      for (Eigen::Index c = 0; c < k; ++c) {
        const Plane& s = slope_[static_cast<std::size_t>(set[static_cast<std::size_t>(c)])][r];
        j(0, c) = s.a;
        j(1, c) = s.b;
      }
      const Eigen::Vector2d away(away_[r].a, away_[r].b);
      normal += weight * j.transpose() * j;
      right -= weight * j.transpose() * away;
    }
    const Eigen::VectorXd steps = normal.ldlt().solve(right);
    double cost = kPerHandle * static_cast<double>(k) + kUnlikely * steps.squaredNorm();
    for (std::size_t r = 0; r < away_.size(); ++r) {
      Eigen::Vector2d d(away_[r].a, away_[r].b);
      const double before = d.squaredNorm();
      for (Eigen::Index c = 0; c < k; ++c) {
        const Plane& s = slope_[static_cast<std::size_t>(set[static_cast<std::size_t>(c)])][r];
        d += steps[c] * Eigen::Vector2d(s.a, s.b);
      }
      cost += r == which_ ? d.squaredNorm() : kOthers * (d.squaredNorm() - before);
    }
    if (cost < best.cost) best = {set, steps, cost};
  }

  std::size_t which_;
  std::vector<Candidate> candidates_;
  std::vector<Plane> away_;                // from its aim, by region
  std::vector<std::vector<Plane>> slope_;  // by handle and region
};

// A choice made exact: Gauss-Newton on the exact evaluation in its handles alone.
DotMove Refined(const record::Correction& correction, const RegionSamples& region, const Linear& linear,
                const Linear::Choice& choice, Plane target) {
  DotMove move;
  move.touch = correction.touch;
  for (std::size_t i = 0; i < choice.set.size(); ++i) {
    const Candidate& c = linear.candidate(choice.set[i]);
    move.touch = Stepped(move.touch, c.handle, choice.steps[static_cast<Eigen::Index>(i)] * c.size);
    move.moved.push_back(c.handle);
  }
  const auto distance = [&](const record::Handles& touch) {
    const Plane d = Now(region, correction, touch) - target;
    return std::hypot(d.a, d.b);
  };
  move.miss = distance(move.touch);
  for (int round = 0; round < kRefinements && move.miss > 0.05; ++round) {
    const auto k = static_cast<Eigen::Index>(choice.set.size());
    const Plane now = Now(region, correction, move.touch);
    Eigen::MatrixXd j(2, k);
    for (Eigen::Index c = 0; c < k; ++c) {
      const Candidate& of = linear.candidate(choice.set[static_cast<std::size_t>(c)]);
      const Plane d = Now(region, correction, Stepped(move.touch, of.handle, 0.1 * of.size)) - now;
      j(0, c) = d.a * 10;
      j(1, c) = d.b * 10;
    }
    const Eigen::Vector2d away(now.a - target.a, now.b - target.b);
    const Eigen::VectorXd steps =
        (j.transpose() * j + 1e-3 * Eigen::MatrixXd::Identity(k, k)).ldlt().solve(-j.transpose() * away);
    if (!steps.allFinite()) break;
    record::Handles next = move.touch;
    for (Eigen::Index c = 0; c < k; ++c) {
      const Candidate& of = linear.candidate(choice.set[static_cast<std::size_t>(c)]);
      next = Stepped(next, of.handle, std::clamp(steps[c], -3.0, 3.0) * of.size);
    }
    const double miss = distance(next);
    if (!(miss < move.miss)) break;
    move.touch = next;
    move.miss = miss;
  }
  return move;
}

}  // namespace

DotMove MoveDot(const record::Correction& correction, const std::vector<RegionSamples>& regions,
                std::size_t which, double a, double b, const record::Uncertainty& uncertainty) {
  // The dot goes where it is pulled: one handle that leaves more than this gets a second, if that helps by
  // half.
  constexpr double kSeen = 0.5;
  const Plane target{a, b};
  const RegionSamples& region = regions[which];
  const Linear linear(correction, regions, which, target, CandidatesFor(region.kind, uncertainty));
  const DotMove move = Refined(correction, region, linear, linear.Best(1), target);
  if (move.moved.size() != 1 || move.miss <= kSeen) return move;
  const DotMove with_two = Refined(correction, region, linear, linear.Best(2), target);
  return with_two.miss < 0.5 * move.miss ? with_two : move;
}

}  // namespace samelight::solve
