#include "pair/apart.h"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <optional>

#include "base/median.h"

namespace samelight::pair {
namespace {

constexpr int kTilesAcross = 12, kTilesDown = 9;  // a face of a group is one or a few
constexpr std::size_t kLeastInTile = 3, kLeastTiles = 10;
constexpr double kFinest_px = 0.1;  // no match is exacter

struct Tile {
  Eigen::Vector2d middle_px;
  double scatter_px = 0;
};
using Tiles = std::array<std::optional<Tile>, kTilesAcross * kTilesDown>;

Tiles TilesOf(const std::vector<Stray>& frame) {
  std::array<std::vector<Eigen::Vector2d>, kTilesAcross * kTilesDown> inside;
  for (const Stray& s : frame)
    inside[std::clamp(static_cast<int>(s.y * kTilesDown), 0, kTilesDown - 1) * kTilesAcross +
           std::clamp(static_cast<int>(s.x * kTilesAcross), 0, kTilesAcross - 1)]
        .emplace_back(s.by_px[0], s.by_px[1]);
  Tiles out;
  for (std::size_t t = 0; t < out.size(); ++t) {
    if (inside[t].size() < kLeastInTile) continue;
    std::vector<double> across, down, off;
    for (const Eigen::Vector2d& p : inside[t]) {
      across.push_back(p.x());
      down.push_back(p.y());
    }
    const Eigen::Vector2d middle(Median(across), Median(down));
    for (const Eigen::Vector2d& p : inside[t]) off.push_back((p - middle).norm());
    out[t] = {middle, Median(off)};
  }
  return out;
}

}  // namespace

double HowFarApart(const std::vector<std::vector<Stray>>& frames) {
  std::vector<Tiles> tiles;
  for (const std::vector<Stray>& f : frames) tiles.push_back(TilesOf(f));
  std::vector<double> of_pairs;
  for (std::size_t f = 0; f < tiles.size(); ++f)
    for (std::size_t g = f + 1; g < tiles.size(); ++g) {
      double sum = 0;
      std::vector<double> scatter;
      for (std::size_t t = 0; t < tiles[f].size(); ++t)
        if (const auto& a = tiles[f][t], &b = tiles[g][t]; a && b) {
          sum += (a->middle_px - b->middle_px).norm();
          scatter.push_back(std::max(a->scatter_px, b->scatter_px));
        }
      if (scatter.size() >= kLeastTiles)
        of_pairs.push_back(sum / static_cast<double>(scatter.size()) / (Median(scatter) + kFinest_px));
    }
  return of_pairs.empty() ? 0 : Median(of_pairs);
}

}  // namespace samelight::pair
