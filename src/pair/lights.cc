#include "pair/lights.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>

#include "base/groups.h"
#include "pair/cuts.h"
#include "pair/flash.h"
#include "pair/own_word.h"
#include "pair/relight.h"

namespace samelight::pair {
namespace {

// Spread of single frames inside one light. Cameras' own whites wander; brightness depends on what is in the
// frame.
constexpr double kMiredSpread = 16, kDuvSpread = 5e-3, kBrightnessSpread_ev = 1.1, kBacklightSpread_ev = 0.9;
// Half of all changes of light leave its colour and level much as they were (from memory: another place under
// the same sky). Such a cut is made where it is three times likelier than none.
const double kAlike = std::log(0.5), kClear = 1.1;
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
  std::vector<double> mired(n), duv(n), brightness(n), white_weight(n), brightness_weight(n), backlight(n),
      backlight_weight(n);
  for (int i = 0; i < n; ++i) {
    mired[i] = moments[i].mired;
    duv[i] = moments[i].duv;
    white_weight[i] = std::clamp(moments[i].white_trust, 0.0, 1.0);
    brightness[i] = moments[i].brightness_ev.value_or(0);
    brightness_weight[i] = moments[i].brightness_ev ? 1 : 0;
    backlight[i] = moments[i].backlight_ev.value_or(0);
    backlight_weight[i] = moments[i].backlight_ev ? 1 : 0;
  }
  std::vector<Link> own;
  for (const Link& l : links) {
    const auto a = place.find(l.first), b = place.find(l.second);
    if (a != place.end() && b != place.end()) own.emplace_back(a->second, b->second);
  }
  // How bright a picture is hangs on what is in it; its white and direction are the light's.
  const std::vector<double> own_level = OwnWord(brightness, brightness_weight, NearLinks(moments, own));
  for (int i = 0; i < n; ++i) brightness_weight[i] *= own_level[i];
  const Quantity white(mired, white_weight, kMiredSpread), tint(duv, white_weight, kDuvSpread),
      level(brightness, brightness_weight, kBrightnessSpread_ev),
      direction(backlight, backlight_weight, kBacklightSpread_ev);
  std::vector<double> odds = ChangeLogOdds(StepsOf(moments, own));
  const std::vector<double> relit = RelitNats(moments, own);
  for (std::size_t i = 0; i < odds.size(); ++i) odds[i] += relit[i];

  const auto fit = [&](int from, int to) {
    return white.Best(from, to).first + tint.Best(from, to).first + level.Best(from, to).first +
           direction.Best(from, to).first;
  };
  const bool directed = std::count(backlight_weight.begin(), backlight_weight.end(), 1.0) > 1;
  const double price = (directed ? 2.0 : 1.5) * std::log(std::clamp(n, 8, 60));  // four or three parameters
  std::vector<double> least(n + 1, std::numeric_limits<double>::max());
  std::vector<int> from(n + 1, 0);
  least[0] = 0;
  for (int to = 1; to <= n; ++to)
    for (int f = to - 1; f >= 0; --f) {
      const double cost = least[f] + (f == 0 ? 0 : price - odds[f - 1]) + fit(f, to);
      if (cost < least[to]) {
        least[to] = cost;
        from[to] = f;
      }
      if (start[sequence[f]]) break;  // no segment runs over a person's cut
    }
  std::vector<int> cuts{n};
  for (int to = n; to > 0; to = from[to]) cuts.push_back(from[to]);
  std::reverse(cuts.begin(), cuts.end());
  // What colour does not tell apart, the steps may.
  for (std::size_t s = 0; s + 1 < cuts.size();) {
    const int first = cuts[s], last = cuts[s + 1];
    int best = -1;
    double most = kClear;
    for (int c = first + 1; c < last; ++c) {
      if (odds[c - 1] + kAlike < 0) continue;
      const double saved = fit(first, last) - fit(first, c) - fit(c, last);
      const double worth = odds[c - 1] + kAlike + std::log1p(std::exp(saved - price));
      if (worth > most) std::tie(most, best) = std::pair(worth, c);
    }
    if (best < 0)
      ++s;
    else
      cuts.insert(cuts.begin() + static_cast<long>(s) + 1, best);
  }
  std::vector<Segment> out;
  for (std::size_t s = 0; s + 1 < cuts.size(); ++s) {
    out.emplace_back();
    out.back().members.assign(sequence.begin() + cuts[s], sequence.begin() + cuts[s + 1]);
  }
  return out;
}

// Segments with and without flash, each by itself.
std::vector<Segment> SegmentsOf(const std::vector<Moment>& moments, const std::vector<Link>& links,
                                const std::vector<bool>& start, const std::vector<bool>& flashed) {
  const int n = static_cast<int>(moments.size());
  std::vector<Segment> segments;
  for (bool flash : {false, true}) {
    std::vector<int> sequence;
    // A person's cut at a frame of the other kind holds for the next frame of this kind.
    bool pending = false;
    std::vector<bool> own_start(n, false);
    for (int i = 0; i < n; ++i) {
      pending = pending || start[i];
      if (flashed[i] != flash) continue;
      sequence.push_back(i);
      own_start[i] = pending;
      pending = false;
    }
    if (sequence.empty()) continue;
    for (Segment& s : Cut(moments, sequence, links, own_start)) {
      s.flash = flash;
      segments.push_back(std::move(s));
    }
  }
  return segments;
}

struct Summary {
  double mired = 0, duv = 0, brightness = 0, backlight = 0;
  double white_weight = 0, brightness_weight = 0, backlight_weight = 0;
};

Summary Summarise(const std::vector<Moment>& moments, const Segment& segment) {
  Summary s;
  std::vector<double> m, d, b, direction;
  for (int i : segment.members) {
    if (moments[i].white_trust > 0.3) {
      m.push_back(moments[i].mired);
      d.push_back(moments[i].duv);
    }
    if (moments[i].brightness_ev) b.push_back(*moments[i].brightness_ev);
    if (moments[i].backlight_ev) direction.push_back(*moments[i].backlight_ev);
  }
  s.white_weight = static_cast<double>(m.size());
  s.brightness_weight = static_cast<double>(b.size());
  if (!m.empty()) {
    s.mired = Quantile(m, 0.5);
    s.duv = Quantile(d, 0.5);
  }
  s.backlight_weight = static_cast<double>(direction.size());
  if (!b.empty()) s.brightness = Quantile(b, 0.5);
  if (!direction.empty()) s.backlight = Quantile(direction, 0.5);
  return s;
}

bool Alike(const Summary& a, const Summary& b) {
  // Small segments know their middle less well.
  const auto near = [](double x, double y, double weight_x, double weight_y, double spread) {
    if (weight_x <= 0 || weight_y <= 0) return true;
    return std::abs(x - y) <= spread * std::sqrt(0.4 + 1 / weight_x + 1 / weight_y);
  };
  return near(a.mired, b.mired, a.white_weight, b.white_weight, kMiredSpread) &&
         near(a.duv, b.duv, a.white_weight, b.white_weight, kDuvSpread) &&
         near(a.brightness, b.brightness, a.brightness_weight, b.brightness_weight, kBrightnessSpread_ev) &&
         near(a.backlight, b.backlight, a.backlight_weight, b.backlight_weight, kBacklightSpread_ev);
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
                               const std::vector<int>& starts, std::vector<bool>* guessed) {
  const int n = static_cast<int>(moments.size());
  std::vector<bool> start(n, false);
  for (int i : starts)
    if (i >= 0 && i < n) start[i] = true;
  std::vector<bool> flashed = Flashed(moments, links);
  std::vector<Segment> segments = SegmentsOf(moments, links, start, flashed);
  std::size_t found = 0;
  for (const Segment& s : segments)
    if (!s.flash)
      for (int i : FlashAmong(moments, links, s.members)) {
        flashed[i] = true;
        ++found;
      }
  if (found > 0) segments = SegmentsOf(moments, links, start, flashed);
  if (guessed != nullptr) {
    *guessed = flashed;
    for (int i = 0; i < n; ++i)
      if (moments[i].flash) (*guessed)[i] = false;
  }

  // Back and forth: alike in light and place, near in time, and no person's cut between them.
  const int count = static_cast<int>(segments.size());
  std::vector<int> segment_of(n, 0), cuts_before(n, 0);
  Groups lights(count);
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
      if (segments[a].flash != segments[b].flash || lights.Of(a) == lights.Of(b)) continue;
      // One link may be mistaken; a frame or two have no more.
      const std::size_t few = std::min(segments[a].members.size(), segments[b].members.size());
      if (shared[a][b] < (few > 2 ? 2 : 1)) continue;
      if (cuts_before[segments[a].members.front()] != cuts_before[segments[b].members.front()]) continue;
      if (!Alike(summaries[a], summaries[b]) || Pause(moments, segments[a], segments[b]) > kMergePause_s)
        continue;
      lights.Join(a, b);
    }

  std::vector<int> out(n), name(count, -1);
  int next = 0;
  for (int i = 0; i < n; ++i) {
    const int r = lights.Of(segment_of[i]);
    if (name[r] < 0) name[r] = next++;
    out[i] = name[r];
  }
  return out;
}

}  // namespace samelight::pair
