#include "pair/flash.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "base/median.h"

namespace samelight::pair {
namespace {

// A flash is daylight of 180 mired (5600 K), lamps have 270 and more (common practice); the picture holds
// both.
constexpr double kFlash_mired = 180, kFlashMost_mired = 280, kLampsLeast_mired = 260, kMuchWarmer_mired = 70;
constexpr double kFlashPause_s = 5 * 60;

// Part of the way to the flash that the white of a whole picture goes, and how far single ones stray: on
// invented sessions 0.6 to 0.75.
constexpr double kPart = 0.67, kWay_mired = 30, kSpread_mired = 18;
// What is nearer cannot be told from a camera's straying white: lamps of 270 mired and more; dusk is too
// near.
constexpr double kLeastWay_mired = 60;
constexpr double kLeastRest = 0.25;                   // of all: fewer may be slips of a camera's white,
constexpr double kFar_mired = 100;                    // which do not go so far
constexpr double kApart_mired = 54;                   // three such strays
constexpr double kBetween = 0.17, kFewBetween = 0.1;  // of the way, to both sides of its middle; of all
constexpr double kShadowSpread = 0.45;                // log2, of one light
constexpr double kShadowShift = 1.2;                  // in those: what flash does
constexpr double kPrice = 4;  // nats: two more parameters, and that flash is the exception

// Negative logarithm of a Student t (3 degrees of freedom), zero at zero.
double Cost(double deviations) { return 2 * std::log1p(deviations * deviations / 3); }

// The members of one light whose whites can be told, and what each shows in common with which others.
struct Light {
  const std::vector<Moment>& moments;
  std::vector<int> members;  // by rising mired
  std::map<int, std::vector<int>> linked;
  double mired(std::size_t k) const { return moments[members[k]].mired; }
  double Median(std::size_t from, std::size_t to) const { return mired((from + to) / 2); }
  double Costs(std::size_t from, std::size_t to, double centre) const {
    double sum = 0;
    for (std::size_t k = from; k < to; ++k) sum += Cost((mired(k) - centre) / kSpread_mired);
    return sum;
  }
};

// Nats for the members [from, to) being flash beside the rest, which is all before or all behind them.
double Worth(const Light& light, std::size_t from, std::size_t to) {
  const std::size_t n = light.members.size(), rest_from = from == 0 ? to : 0, rest_to = from == 0 ? n : from;
  const double ambient = light.Median(rest_from, rest_to), way = kPart * (kFlash_mired - ambient);
  const double lit = light.Median(from, to);
  if (std::abs(way) < kLeastWay_mired || (lit - ambient) * way <= 0) return 0;
  const double centre = std::clamp(lit, ambient + way - kWay_mired, ambient + way + kWay_mired);
  // Two heaps, not the two ends of one.
  const double apart = std::abs(centre - ambient);
  if (apart < kApart_mired) return 0;
  if (apart < kFar_mired && static_cast<double>(rest_to - rest_from) < kLeastRest * static_cast<double>(n))
    return 0;
  double between = 0;
  for (std::size_t k = 0; k < n; ++k)
    between += std::abs(light.mired(k) - (ambient + centre) / 2) < kBetween * apart;
  if (between > std::max(1.0, kFewBetween * static_cast<double>(n))) return 0;
  double nats = light.Costs(0, n, light.Median(0, n)) - light.Costs(rest_from, rest_to, ambient) -
                light.Costs(from, to, centre) - kPrice;
  for (std::size_t k = from; k < to; ++k) {
    const int i = light.members[k];
    const auto linked = light.linked.find(i);
    if (!light.moments[i].shadow_warmth || linked == light.linked.end()) continue;
    std::vector<double> usual;
    for (std::size_t r = rest_from; r < rest_to; ++r)
      if (std::count(linked->second.begin(), linked->second.end(), light.members[r]) > 0 &&
          light.moments[light.members[r]].shadow_warmth)
        usual.push_back(*light.moments[light.members[r]].shadow_warmth);
    if (usual.empty()) continue;
    // Beside lamps flash leaves the shadows warm, in dusk it leaves them blue.
    const double away = (way < 0 ? 1 : -1) * (*light.moments[i].shadow_warmth - Median(usual));
    nats += std::clamp(kShadowShift * (away / kShadowSpread - kShadowShift / 2), -1.5, 3.0);
  }
  return nats;
}

}  // namespace

std::vector<bool> Flashed(const std::vector<Moment>& moments, const std::vector<Link>& links) {
  std::vector<bool> out(moments.size());
  for (std::size_t i = 0; i < moments.size(); ++i) out[i] = moments[i].flash.value_or(false);
  std::vector<std::set<int>> warmer(moments.size());
  for (const Link& l : links)
    for (const auto& [i, j] : {std::pair(l.first, l.second), std::pair(l.second, l.first)}) {
      const Moment &mine = moments[i], &other = moments[j];
      if (mine.flash || other.flash.value_or(false) || !Near(mine, other, kFlashPause_s)) continue;
      if (std::min(mine.white_trust, other.white_trust) <= kTrustedWhite) continue;
      if (mine.mired < kFlashMost_mired && other.mired > kLampsLeast_mired &&
          other.mired - mine.mired > kMuchWarmer_mired)
        warmer[i].insert(j);
    }
  for (std::size_t i = 0; i < moments.size(); ++i)
    if (warmer[i].size() >= 2) out[i] = true;  // one may be a slip of the camera's white
  return out;
}

std::vector<int> FlashAmong(const std::vector<Moment>& moments, const std::vector<Link>& links,
                            const std::vector<int>& members) {
  Light light{moments, {}, {}};
  for (int i : members) {
    if (moments[i].flash) return {};
    if (moments[i].white_trust > kTrustedWhite) light.members.push_back(i);
  }
  const std::size_t n = light.members.size();
  if (n < 3) return {};
  std::stable_sort(light.members.begin(), light.members.end(),
                   [&](int a, int b) { return moments[a].mired < moments[b].mired; });
  for (const Link& l : links) {
    light.linked[l.first].push_back(l.second);
    light.linked[l.second].push_back(l.first);
  }
  double most = 0;
  std::size_t from = 0, to = 0;
  for (std::size_t cut = 1; cut < n; ++cut)
    for (const auto& [a, b] : {std::pair(std::size_t{0}, cut), std::pair(cut, n)})
      if (const double worth = Worth(light, a, b); worth > most)
        std::tie(most, from, to) = std::tuple(worth, a, b);
  return {light.members.begin() + static_cast<long>(from), light.members.begin() + static_cast<long>(to)};
}

}  // namespace samelight::pair
