#include "pair/subject.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "color/space.h"

namespace samelight::pair {
namespace {

using record::RegionKind;
using record::RegionStat;

constexpr double kLeastArea = 0.01;
constexpr double kStrong = 1.6;  // log2 between the strongest and the weakest channel
// Duv of no white lamp: those for seeing by lie within 0.02 (from memory of the fluorescent ones), a
// correlated colour temperature has a meaning up to 0.05 (CIE 15); cameras' own whites err by 0.01.
constexpr double kOffLocus = 0.035;
constexpr double kOneSide = 0.7;  // cosine between the colours of two regions

bool IsWhole(const RegionStat& s) { return s.face < 0 && s.kind != RegionKind::kMasked; }

}  // namespace

std::optional<double> BacklightOf(const record::Measured& measured) {
  double skin = 0;
  struct Part {
    double level, area;
  };
  std::vector<Part> rest;
  for (const RegionStat& s : measured.regions) {
    if (!IsWhole(s) || s.area < kLeastArea) continue;
    if (s.kind == RegionKind::kSkin)
      skin = color::LuminanceRec2020(s.quantiles[2]);
    else  // quantiles stand for the fifths of the region that they are the middle of, near enough
      for (const Vec3& q : s.quantiles) rest.push_back({color::LuminanceRec2020(q), s.area / 5});
  }
  if (!(skin > 0) || rest.empty()) return std::nullopt;
  std::sort(rest.begin(), rest.end(), [](const Part& a, const Part& b) { return a.level > b.level; });
  double area = 0, half = 0, sum = 0;
  for (const Part& p : rest) area += p.area;
  for (const Part& p : rest) {
    const double take = std::min(p.area, area / 2 - half);
    sum += take * std::max(0.0, p.level);
    half += take;
  }
  if (!(half > 0) || !(sum > 0)) return std::nullopt;
  return std::log2(skin / (sum / half));
}

std::optional<double> ShadowWarmthOf(const record::Measured& measured) {
  double area = 0, sum = 0;
  for (const RegionStat& s : measured.regions) {
    if (!IsWhole(s)) continue;
    const auto warmth = [&](std::size_t q) {
      return std::log2(std::max(s.quantiles[q][0], 1e-5) / std::max(s.quantiles[q][2], 1e-5));
    };
    sum += s.area * (warmth(0) + warmth(1) - warmth(3) - warmth(4)) / 2;
    area += s.area;
  }
  if (!(area > 0)) return std::nullopt;
  return sum / area;
}

bool LooksNarrowBand(const record::Measured& measured, bool raw) {
  if (measured.black_and_white) return false;
  if (raw && std::abs(measured.light.duv) > kOffLocus) return true;
  std::vector<Vec3> colours;  // log2, mean 0
  double area = 0;
  for (const RegionStat& s : measured.regions) {
    if (!IsWhole(s) || s.area < kLeastArea) continue;
    Vec3 log{};
    double mean = 0;
    for (int c = 0; c < 3; ++c) mean += (log[c] = std::log2(std::max(s.quantiles[2][c], 1e-5))) / 3;
    for (double& v : log) v -= mean;
    if (*std::max_element(log.begin(), log.end()) - *std::min_element(log.begin(), log.end()) < kStrong)
      return false;
    colours.push_back(log);
    area += s.area;
  }
  if (area < 0.5) return false;
  for (const Vec3& a : colours)
    for (const Vec3& b : colours) {
      double ab = 0, aa = 0, bb = 0;
      for (int c = 0; c < 3; ++c) {
        ab += a[c] * b[c];
        aa += a[c] * a[c];
        bb += b[c] * b[c];
      }
      if (ab < kOneSide * std::sqrt(aa * bb)) return false;
    }
  return true;
}

}  // namespace samelight::pair
