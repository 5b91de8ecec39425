#include "pair/clock.h"

#include <algorithm>
#include <cmath>

namespace samelight::pair {
namespace {

constexpr double kWindow_s = 45;  // frames of one moment by two photographers lie about this close
constexpr double kHalfTrust = 4;  // votes at which an offset is half trusted

struct Vote {
  double at, weight;
};

// Weight of the votes near `at`, nearer ones count more.
double Density(const std::vector<Vote>& votes, double at) {
  double sum = 0;
  for (const Vote& v : votes) sum += v.weight * std::exp(-std::abs(v.at - at) / kWindow_s);
  return sum;
}

double WeightedMedian(std::vector<Vote> votes) {
  std::sort(votes.begin(), votes.end(), [](const Vote& a, const Vote& b) { return a.at < b.at; });
  double total = 0, run = 0;
  for (const Vote& v : votes) total += v.weight;
  for (const Vote& v : votes)
    if ((run += v.weight) >= total / 2) return v.at;
  return 0;
}

struct Offset {
  double at = 0, trust = 0;
};

Offset FromVotes(const std::vector<Vote>& votes) {
  Offset out;
  if (votes.empty()) return out;
  double best = 0, all = 0;
  for (const Vote& v : votes) {
    all += v.weight;
    const double density = Density(votes, v.at);
    if (density > best) {
      best = density;
      out.at = v.at;
    }
  }
  std::vector<Vote> near;
  double near_weight = 0;
  for (const Vote& v : votes)
    if (std::abs(v.at - out.at) <= 2 * kWindow_s) {
      near.push_back(v);
      near_weight += v.weight;
    }
  out.at = WeightedMedian(near);
  // The second best offset, well apart, tells how clear the vote was.
  double other = 0;
  for (const Vote& v : votes)
    if (std::abs(v.at - out.at) > 6 * kWindow_s) other = std::max(other, Density(votes, v.at));
  out.trust = near_weight / (near_weight + kHalfTrust) * std::clamp(1 - other / best, 0.0, 1.0);
  return out;
}

}  // namespace

std::vector<ClockOffset> EstimateClocks(int bodies, const std::vector<ClockLink>& links) {
  std::vector<ClockOffset> out(std::max(bodies, 1));
  out[0].confidence = 1;
  std::vector<bool> placed(out.size(), false);
  placed[0] = true;
  while (true) {
    // The unplaced body that is surest against all placed ones.
    Offset best;
    int best_body = -1;
    for (int b = 1; b < bodies; ++b) {
      if (placed[b]) continue;
      std::vector<Vote> votes;
      double trust = 0;
      for (const ClockLink& l : links) {
        const bool forward = l.body_b == b && placed[l.body_a], backward = l.body_a == b && placed[l.body_b];
        if (l.body_a == l.body_b || (!forward && !backward)) continue;
        const int other = forward ? l.body_a : l.body_b;
        votes.push_back({out[other].offset_s - (forward ? l.later_s : -l.later_s), l.weight});
        trust = std::max(trust, out[other].confidence);
      }
      Offset offset = FromVotes(votes);
      offset.trust *= trust;
      if (offset.trust > best.trust) {
        best = offset;
        best_body = b;
      }
    }
    if (best_body < 0) return out;
    placed[best_body] = true;
    out[best_body] = {best.at, best.trust};
  }
}

}  // namespace samelight::pair
