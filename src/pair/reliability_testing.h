// For tests: many small hard sessions, and how often stated probabilities come true.
#pragma once

#include <map>
#include <set>
#include <vector>

#include "pair/session_testing.h"

namespace samelight::pair::testing {

struct Claim {
  double stated = 0;
  bool right = false;
  record::PairKind kind = record::PairKind::kNone;
  bool order_said = false;  // a note says that only the order of the roll tells the light
};

// An invented session of eight scenes and what it claims of its scans. Two scenes are seen again hours later
// in another light, one of them filmed then; one scan shows what no frame shows; views reach from near to
// barely overlapping, some are black-and-white, thin or coarse; the roll runs either way. A claim is right
// when it names the light of the scan, or none where there is none.
struct HardDay {
  explicit HardDay(std::uint64_t seed);
  std::vector<Claim> Claims() const;
  Session s;
  std::map<PhotoId, int> light_of;            // of frames
  std::vector<std::pair<PhotoId, int>> roll;  // scans in their order, and their lights; -1: seen by no frame
  std::set<PhotoId> at_two_hours;             // scans of a place that was seen in two lights
};

inline HardDay::HardDay(std::uint64_t seed) {
  s.width_px = 432;
  s.height_px = 324;
  Dice dice(seed * 7919 + 5);
  const int first = static_cast<int>(seed % 5) * 8;
  double now = 36000;
  struct Place {
    int scene, light;
  };
  std::vector<Place> day;
  for (int k = 0; k < 8; ++k) day.push_back({first + k, k / 2});
  day.push_back({first, 4});
  day.push_back({first + 3, 4});
  for (std::size_t k = 0; k < day.size(); ++k) {
    const bool moved = k > 0 && day[k].light != day[k - 1].light;
    now += moved ? dice.Uniform(1500, 6000) : dice.Uniform(60, 300);
    for (int f = 0; f < 3; ++f) {
      now += dice.Uniform(2, 15);
      light_of[s.AddFrame(day[k].scene, seed * 1000 + k * 10 + static_cast<std::uint64_t>(f), now, "body one",
                          170 + 45 * day[k].light)] = day[k].light;
    }
  }
  const bool backwards = dice.Uniform(0, 1) < 0.4;
  std::vector<Place> filmed;
  for (std::size_t k = 0; k < day.size(); ++k)
    if (k != 8 || dice.Uniform(0, 1) < 0.5) filmed.push_back(day[k]);
  filmed.insert(filmed.begin() + 4, Place{50 + static_cast<int>(seed % 7), -1});
  if (backwards) std::reverse(filmed.begin(), filmed.end());
  for (std::size_t k = 0; k < filmed.size(); ++k) {
    const std::uint64_t own = seed * 1000 + 500 + k;
    Framing f = s.Near(dice);
    f.zoom = dice.Uniform(1, 2.8);
    f.shift_x = dice.Uniform(-0.35, 0.35);
    f.shift_y = dice.Uniform(-0.3, 0.3);
    if (dice.Uniform(0, 1) < 0.1) f.angle_deg += 90;
    Rendering r = AnotherRendering(dice);
    r.black_and_white = dice.Uniform(0, 1) < 0.2;
    r.grain = dice.Uniform(0.02, 0.4);
    if (dice.Uniform(0, 1) < 0.2) r.exposure_ev -= 2;
    roll.emplace_back(s.AddScan(SeenAgain(Session::Scene(filmed[k].scene), f, r, own)), filmed[k].light);
    if (filmed[k].scene == first || filmed[k].scene == first + 3) at_two_hours.insert(roll.back().first);
  }
}

inline std::vector<Claim> HardDay::Claims() const {
  std::map<PhotoId, int> truth_of(roll.begin(), roll.end());
  std::vector<Claim> out;
  const Pairing pairing = s.Pair();
  std::set<PhotoId> said;
  for (const record::Note& note : pairing.notes)
    if (note.text.find("the order of its roll tells it") != std::string::npos) said.insert(note.photo);
  for (const record::Pair& pair : pairing.pairs) {
    const int truth = truth_of.at(pair.scan);
    const bool none = pair.kind == record::PairKind::kNone;
    out.push_back({pair.confidence, none ? truth < 0 : light_of.at(pair.frame) == truth, pair.kind,
                   said.count(pair.scan) > 0});
  }
  return out;
}

inline std::vector<Claim> ClaimsOf(std::uint64_t seed) { return HardDay(seed).Claims(); }

// A harder one, for doubt: three places, each seen at three hours by two frames, people in other positions at
// each hour, more or less so from session to session; a short roll, every other one of them out of order.
// Views reach from near to barely overlapping.
inline std::vector<Claim> DoubtfulClaimsOf(std::uint64_t seed) {
  Session s;
  s.width_px = 432;
  s.height_px = 324;
  Dice dice(seed * 6007 + 11);
  constexpr int kPlaces = 3, kHours = 3, kScans = 5;
  const double reach_px = dice.Uniform(0, 14);
  const auto moved = [&](image::RgbF place, int people, double by_px) {
    for (int k = 0; k < people; ++k)
      place = Slid(place, dice.Uniform(100, 800), dice.Uniform(100, 575), dice.Uniform(70, 150),
                   dice.Uniform(-by_px, by_px), dice.Uniform(-by_px, by_px));
    return place;
  };
  std::map<PhotoId, int> light_of;
  std::vector<std::pair<int, image::RgbF>> states;  // light
  for (int hour = 0; hour < kHours; ++hour)
    for (int p = 0; p < kPlaces; ++p) {
      const int light = hour * kPlaces + p;
      states.emplace_back(light,
                          moved(Session::Scene(60 + static_cast<int>(seed % 4) * kPlaces + p), 3, reach_px));
      for (std::uint64_t f = 0; f < 2; ++f) {
        Framing framing = s.Near(dice);
        framing.zoom = dice.Uniform(1, 1.6);
        framing.shift_x = dice.Uniform(-0.12, 0.12);
        const image::RgbF seen = SeenAgain(moved(states.back().second, 1, reach_px / 2), framing,
                                           {dice.Uniform(-1, 0.3), 0, 1, 0, 0.01, false}, seed * 100 + f);
        light_of[s.AddFrame(seen, 36000 + 9000.0 * hour + 2000 * p + 40.0 * static_cast<double>(f),
                            150 + 25 * light)] = light;
      }
    }
  std::vector<std::size_t> roll;
  for (int k = 0; k < kScans; ++k) roll.push_back(static_cast<std::size_t>(dice.Uniform(0, 8.999)));
  if (dice.Uniform(0, 1) < 0.5) std::sort(roll.begin(), roll.end());
  for (std::size_t k = 0; k < roll.size(); ++k) {
    Framing framing = s.Near(dice);
    framing.zoom = dice.Uniform(1, 2);
    framing.shift_x = dice.Uniform(-0.25, 0.25);
    Rendering film = AnotherRendering(dice);
    film.grain = dice.Uniform(0.02, 0.3);
    s.AddScan(SeenAgain(moved(states[roll[k]].second, 2, reach_px / 2), framing, film, seed * 100 + 50 + k));
  }
  const Pairing p = s.Pair();
  std::vector<Claim> out;
  for (std::size_t i = 0; i < p.pairs.size(); ++i) {
    const record::Pair& pair = p.pairs[i];
    const bool none = pair.kind == record::PairKind::kNone;
    const int truth = states[roll[i]].first;
    if (!none) out.push_back({pair.confidence, light_of[pair.frame] == truth, pair.kind, false});
    for (const record::PairCandidate& c : pair.alternatives)
      if (none) out.push_back({c.confidence, light_of[c.frame] == truth, c.kind, false});
  }
  return out;
}

// Clopper and Pearson 1934: the interval that holds the true rate with 95 %, of `right` in `all`.
inline std::pair<double, double> BinomialInterval(int right, int all) {
  // Tail of the binomial distribution, from logarithms of the gamma function.
  const auto at_least = [&](int k, double p) {
    double sum = 0;
    for (int i = k; i <= all; ++i)
      sum += std::exp(std::lgamma(all + 1) - std::lgamma(i + 1) - std::lgamma(all - i + 1) + i * std::log(p) +
                      (all - i) * std::log1p(-p));
    return sum;
  };
  const auto solve = [&](int k, double tail) {
    double low = 1e-9, high = 1 - 1e-9;
    for (int i = 0; i < 60; ++i) (at_least(k, (low + high) / 2) < tail ? low : high) = (low + high) / 2;
    return (low + high) / 2;
  };
  return {right == 0 ? 0 : solve(right, 0.025), right == all ? 1 : solve(right + 1, 0.975)};
}

}  // namespace samelight::pair::testing
