#include "pair/lights.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <numeric>

namespace samelight::pair {
namespace {

// Spread of single frames inside one light. Cameras' own whites wander; brightness depends on what is in the
// frame.
constexpr double kMiredSpread = 16, kDuvSpread = 5e-3, kBrightnessSpread_ev = 1.1;
constexpr double kNotLinked = 1.0;        // nats in favour of a cut that no link crosses,
constexpr double kMissed = 0.5;           // and more for each link that usually crosses one
constexpr double kLinked = 2.5;           // nats against a cut that as many links cross as usual
constexpr int kLinkReach = 20;            // frames over which links are counted,
constexpr double kLinkPause_s = 30 * 60;  // and the longest time
constexpr double kLeastUsualPause_s = 45, kMostUsualPause_s = 400;
constexpr double kLeastPrice = -2;         // of a cut, however long the pause
constexpr double kMergePause_s = 45 * 60;  // two visits of one light lie at most this far apart

// Negative logarithm of a Student t (3 degrees of freedom), zero at zero.
double Cost(double deviations) { return 2 * std::log1p(deviations * deviations / 3); }

// One quantity whose value is constant within a light: sums of the cost about each of a grid of centres.
class Quantity {
 public:
  Quantity(const std::vector<double>& values, const std::vector<double>& weights, double spread) {
    double low = std::numeric_limits<double>::max(), high = std::numeric_limits<double>::lowest();
    for (std::size_t i = 0; i < values.size(); ++i)
      if (weights[i] > 0) {
        low = std::min(low, values[i]);
        high = std::max(high, values[i]);
      }
    if (low > high) low = high = 0;
    const int centres = std::clamp(static_cast<int>(std::ceil((high - low) / (spread / 2))) + 1, 1, 200);
    for (int c = 0; c < centres; ++c) {
      const double centre = centres == 1 ? low : low + (high - low) * c / (centres - 1);
      centres_.push_back(centre);
      std::vector<double> sum{0};
      for (std::size_t i = 0; i < values.size(); ++i)
        sum.push_back(sum.back() + weights[i] * Cost((values[i] - centre) / spread));
      sums_.push_back(std::move(sum));
    }
  }
  // Least cost of [from, to) about one centre, and that centre.
  std::pair<double, double> Best(int from, int to) const {
    std::pair<double, double> best{std::numeric_limits<double>::max(), 0};
    for (std::size_t c = 0; c < sums_.size(); ++c)
      best = std::min(best, {sums_[c][to] - sums_[c][from], centres_[c]});
    return best;
  }

 private:
  std::vector<double> centres_;
  std::vector<std::vector<double>> sums_;
};

double Quantile(std::vector<double> values, double q) {
  const std::size_t n = static_cast<std::size_t>(q * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + static_cast<long>(n), values.end());
  return values[n];
}

// Nats in favour of a new light after each pause (between i and i + 1), from the session's own pauses.
std::vector<double> PauseVotes(const std::vector<Moment>& moments) {
  std::vector<double> out(moments.size(), 0), logs;
  auto log_pause = [&](std::size_t i) {
    return std::log(std::max(0.5, *moments[i + 1].time_s - *moments[i].time_s));
  };
  for (std::size_t i = 0; i + 1 < moments.size(); ++i)
    if (moments[i].time_s && moments[i + 1].time_s) logs.push_back(log_pause(i));
  if (logs.size() < 4) return out;
  // Most pauses are inside a moment or between moments of one light.
  const double usual =
      std::clamp(Quantile(logs, 0.75), std::log(kLeastUsualPause_s), std::log(kMostUsualPause_s));
  for (std::size_t i = 0; i + 1 < moments.size(); ++i)
    if (moments[i].time_s && moments[i + 1].time_s)
      out[i] = std::clamp(3.0 * (log_pause(i) - usual - 0.8), -3.0, 8.0);
  return out;
}

struct Segment {
  std::vector<int> members;  // indices of moments
  bool flash = false;
};

// Segments of one sequence (all with or all without flash).
std::vector<Segment> Cut(const std::vector<Moment>& all, const std::vector<int>& sequence,
                         const std::vector<Link>& links, const std::vector<bool>& start) {
  const int n = static_cast<int>(sequence.size());
  std::vector<Moment> moments;
  std::map<int, int> place;
  for (int i = 0; i < n; ++i) {
    moments.push_back(all[sequence[i]]);
    place[sequence[i]] = i;
  }
  std::vector<double> mired(n), duv(n), brightness(n), white_weight(n), brightness_weight(n);
  for (int i = 0; i < n; ++i) {
    mired[i] = moments[i].mired;
    duv[i] = moments[i].duv;
    white_weight[i] = std::clamp(moments[i].white_trust, 0.0, 1.0);
    brightness[i] = moments[i].brightness_ev.value_or(0);
    brightness_weight[i] = moments[i].brightness_ev ? 1 : 0;
  }
  const Quantity white(mired, white_weight, kMiredSpread), tint(duv, white_weight, kDuvSpread),
      level(brightness, brightness_weight, kBrightnessSpread_ev);
  std::vector<double> vote = PauseVotes(moments);
  // Links across each cut, against the usual number: where pictures stop to hang together, the place changes.
  std::vector<double> crossing(n, 0);
  for (const Link& l : links) {
    const auto a = place.find(l.first), b = place.find(l.second);
    if (a == place.end() || b == place.end()) continue;
    const int low = std::min(a->second, b->second), high = std::max(a->second, b->second);
    if (high - low > kLinkReach) continue;
    const auto &first = moments[low].time_s, &last = moments[high].time_s;
    if (first && last && std::abs(*last - *first) > kLinkPause_s) continue;  // a place that is visited again
    for (int cut = low; cut < high; ++cut) crossing[cut] += 1;
  }
  const double usual = n > 1 ? Quantile({crossing.begin(), crossing.end() - 1}, 0.5) : 0;
  for (int i = 0; i < n && usual > 0; ++i)
    vote[i] += crossing[i] == 0 ? kNotLinked + kMissed * std::min(usual, 8.0)
                                : -kLinked * std::min(1.0, 2 * crossing[i] / usual);

  const double price =
      1.5 * std::log(std::clamp(n, 8, 60)) + 3.0;  // three parameters, and the place of the cut
  std::vector<double> least(n + 1, std::numeric_limits<double>::max());
  std::vector<int> from(n + 1, 0);
  least[0] = 0;
  for (int to = 1; to <= n; ++to)
    for (int f = to - 1; f >= 0; --f) {
      const double cost = least[f] + (f == 0 ? 0 : std::max(kLeastPrice, price - vote[f - 1])) +
                          white.Best(f, to).first + tint.Best(f, to).first + level.Best(f, to).first;
      if (cost < least[to]) {
        least[to] = cost;
        from[to] = f;
      }
      if (start[sequence[f]]) break;  // no segment runs over a person's cut
    }
  std::vector<Segment> out;
  for (int to = n; to > 0; to = from[to]) {
    Segment s;
    s.flash = moments[from[to]].flash;
    for (int i = from[to]; i < to; ++i) s.members.push_back(sequence[i]);
    out.push_back(std::move(s));
  }
  std::reverse(out.begin(), out.end());
  return out;
}

struct Summary {
  double mired = 0, duv = 0, brightness = 0, white_weight = 0, brightness_weight = 0;
};

Summary Summarise(const std::vector<Moment>& moments, const Segment& segment) {
  Summary s;
  std::vector<double> m, d, b;
  for (int i : segment.members) {
    if (moments[i].white_trust > 0.3) {
      m.push_back(moments[i].mired);
      d.push_back(moments[i].duv);
    }
    if (moments[i].brightness_ev) b.push_back(*moments[i].brightness_ev);
  }
  s.white_weight = static_cast<double>(m.size());
  s.brightness_weight = static_cast<double>(b.size());
  if (!m.empty()) {
    s.mired = Quantile(m, 0.5);
    s.duv = Quantile(d, 0.5);
  }
  if (!b.empty()) s.brightness = Quantile(b, 0.5);
  return s;
}

bool Alike(const Summary& a, const Summary& b) {
  if (a.white_weight > 0 && b.white_weight > 0) {
    // Small segments know their white less well.
    const double slack = std::sqrt(0.4 + 1 / a.white_weight + 1 / b.white_weight);
    if (std::abs(a.mired - b.mired) > kMiredSpread * slack || std::abs(a.duv - b.duv) > kDuvSpread * slack)
      return false;
  }
  if (a.brightness_weight > 0 && b.brightness_weight > 0) {
    const double slack = std::sqrt(0.4 + 1 / a.brightness_weight + 1 / b.brightness_weight);
    if (std::abs(a.brightness - b.brightness) > kBrightnessSpread_ev * slack) return false;
  }
  return true;
}

// Shortest pause between members of two segments; 0 where times are not known.
double Pause(const std::vector<Moment>& moments, const Segment& a, const Segment& b) {
  double least = std::numeric_limits<double>::max();
  bool known = false;
  for (int i : a.members)
    for (int j : b.members)
      if (moments[i].time_s && moments[j].time_s) {
        known = true;
        least = std::min(least, std::abs(*moments[i].time_s - *moments[j].time_s));
      }
  return known ? least : 0;
}

}  // namespace

std::vector<int> SegmentLights(const std::vector<Moment>& moments, const std::vector<Link>& links,
                               const std::vector<int>& starts) {
  const int n = static_cast<int>(moments.size());
  std::vector<bool> start(n, false);
  for (int i : starts)
    if (i >= 0 && i < n) start[i] = true;
  std::vector<Segment> segments;
  for (bool flash : {false, true}) {
    std::vector<int> sequence;
    // A person's cut at a frame of the other kind holds for the next frame of this kind.
    bool pending = false;
    std::vector<bool> own_start(n, false);
    for (int i = 0; i < n; ++i) {
      pending = pending || start[i];
      if (moments[i].flash != flash) continue;
      sequence.push_back(i);
      own_start[i] = pending;
      pending = false;
    }
    if (sequence.empty()) continue;
    for (Segment& s : Cut(moments, sequence, links, own_start)) segments.push_back(std::move(s));
  }

  // Back and forth: alike in light and place, near in time, and no person's cut between them.
  const int count = static_cast<int>(segments.size());
  std::vector<int> segment_of(n, 0), parent(count), cuts_before(n, 0);
  std::iota(parent.begin(), parent.end(), 0);
  const std::function<int(int)> root = [&](int s) {
    return parent[s] == s ? s : parent[s] = root(parent[s]);
  };
  for (int s = 0; s < count; ++s)
    for (int i : segments[s].members) segment_of[i] = s;
  for (int i = 0, cuts = 0; i < n; ++i) cuts_before[i] = cuts += start[i] ? 1 : 0;
  std::vector<std::vector<int>> shared(count, std::vector<int>(count, 0));
  for (const Link& l : links) {
    ++shared[segment_of[l.first]][segment_of[l.second]];
    ++shared[segment_of[l.second]][segment_of[l.first]];
  }
  std::vector<Summary> summaries;
  for (const Segment& s : segments) summaries.push_back(Summarise(moments, s));
  for (int a = 0; a < count; ++a)
    for (int b = a + 1; b < count; ++b) {
      if (segments[a].flash != segments[b].flash || shared[a][b] == 0 || root(a) == root(b)) continue;
      if (cuts_before[segments[a].members.front()] != cuts_before[segments[b].members.front()]) continue;
      if (!Alike(summaries[a], summaries[b]) || Pause(moments, segments[a], segments[b]) > kMergePause_s)
        continue;
      parent[root(b)] = root(a);
    }

  std::vector<int> out(n), name(count, -1);
  int next = 0;
  for (int i = 0; i < n; ++i) {
    const int r = root(segment_of[i]);
    if (name[r] < 0) name[r] = next++;
    out[i] = name[r];
  }
  return out;
}

}  // namespace samelight::pair
