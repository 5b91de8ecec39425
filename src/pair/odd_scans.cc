#include "pair/odd_scans.h"

#include <algorithm>
#include <cmath>

#include "pair/evidence.h"

namespace samelight::pair {
namespace {

constexpr std::size_t kTried = 6;  // best frames that are compared with each other
constexpr double kCovers = 0.4;    // of the scan, by both
constexpr double kSure = 15;       // evidence; unrelated pictures reach 2
constexpr double kAmong = 0.2;     // of the picture's sides
constexpr int kFeatures = 600;
constexpr int kTiles = 5;               // per side
constexpr std::size_t kLeastCells = 4;  // in a tile that can tell
constexpr double kLifted = 1.5;         // red above what the frame lets expect, log2,
constexpr double kWarmer = 0.8;         // and above blue by

double Quantile(std::vector<double> values, double q) {
  const auto at = values.begin() + static_cast<long>(q * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

// How a channel of the scan follows the frame's, on log2 axes: through the medians of the darkest and of the
// brightest third.
struct Line {
  double x = 0, y = 0, slope = 1;
  double Off(const record::Cell& c, int channel) const {
    return std::log2(std::max(c.a_rgb[channel], 1e-4f)) - y -
           slope * (std::log2(std::max(c.b_rgb[channel], 1e-4f)) - x);
  }
};

Line LineOf(const std::vector<record::Cell>& cells, int channel) {
  std::vector<double> b;
  for (const record::Cell& c : cells) b.push_back(std::log2(std::max(c.b_rgb[channel], 1e-4f)));
  const double low = Quantile(b, 1 / 3.0), high = Quantile(b, 2 / 3.0);
  std::vector<double> x[2], y[2];
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (b[i] > low && b[i] < high) continue;
    x[b[i] >= high].push_back(b[i]);
    y[b[i] >= high].push_back(std::log2(std::max(cells[i].a_rgb[channel], 1e-4f)));
  }
  if (x[0].empty() || x[1].empty()) return {};
  Line line;
  const double x0 = Quantile(x[0], 0.5), x1 = Quantile(x[1], 0.5), y0 = Quantile(y[0], 0.5),
               y1 = Quantile(y[1], 0.5);
  line.x = x1;
  line.y = y1;
  line.slope = x1 - x0 > 0.5 ? std::clamp((y1 - y0) / (x1 - x0), 0.5, 2.5) : 1;
  return line;
}

}  // namespace

bool IsDoubleExposure(const View& scan, const std::vector<View>& frames, const std::vector<Shown>& shown) {
  std::vector<const Shown*> strong;
  for (const Shown& s : shown)
    if (Verifies(s.verified) && s.verified.evidence > kSure && s.verified.overlap > kCovers)
      strong.push_back(&s);
  std::stable_sort(strong.begin(), strong.end(),
                   [](const Shown* a, const Shown* b) { return Shared(a->verified) > Shared(b->verified); });
  // The strongest against the rest: frames of the same things are many, the other picture may come late.
  if (strong.size() > kTried) {
    std::vector<const Shown*> some(strong.begin(), strong.begin() + kTried / 2);
    for (std::size_t k = 0; k < kTried / 2; ++k)
      some.push_back(strong[kTried / 2 + k * (strong.size() - kTried / 2) / (kTried / 2)]);
    strong = std::move(some);
  }
  // Where matched features of each lie in the scan.
  const auto spots = [&](const Shown& s) {
    std::vector<std::pair<double, double>> out;
    for (const Inlier& i : s.verified.inliers)
      out.emplace_back(scan.features->points[i.a].x, scan.features->points[i.a].y);
    return out;
  };
  for (std::size_t k = 1; k < strong.size(); ++k) {
    if (Verifies(Verify(frames[strong[0]->frame], frames[strong[k]->frame], kFeatures))) continue;
    // Two pictures side by side are no double exposure: the matches must lie among each other.
    const auto one = spots(*strong[0]), other = spots(*strong[k]);
    std::size_t among = 0;
    for (const auto& [x, y] : other) {
      std::size_t near = 0;
      for (const auto& [u, v] : one) near += std::hypot(x - u, y - v) < kAmong;
      among += near >= 2;
    }
    if (2 * among > other.size()) return true;
  }
  return false;
}

std::size_t DropLeakedCells(std::vector<record::Cell>& cells) {
  if (cells.size() < kLeastCells * kTiles) return 0;
  const Line red = LineOf(cells, 0), blue = LineOf(cells, 2);
  struct Tile {
    std::vector<double> red, over_blue;
  };
  std::vector<Tile> tiles(kTiles * kTiles);
  const auto tile = [](const record::Cell& c) {
    const auto step = [](float v) { return std::clamp(static_cast<int>(v * kTiles), 0, kTiles - 1); };
    return step(c.ay) * kTiles + step(c.ax);
  };
  for (const record::Cell& c : cells) {
    const double r = red.Off(c, 0);
    tiles[tile(c)].red.push_back(r);
    tiles[tile(c)].over_blue.push_back(r - blue.Off(c, 2));
  }
  std::vector<bool> leaked(tiles.size(), false), beside(tiles.size(), false);
  for (int y = 0; y < kTiles; ++y)
    for (int x = 0; x < kTiles; ++x) {
      const Tile& t = tiles[y * kTiles + x];
      const bool edge = x == 0 || y == 0 || x == kTiles - 1 || y == kTiles - 1;
      leaked[y * kTiles + x] = edge && t.red.size() >= kLeastCells && Quantile(t.red, 0.5) > kLifted &&
                               Quantile(t.red, 0.2) > kLifted / 2 && Quantile(t.over_blue, 0.5) > kWarmer;
    }
  // What lies beside a leak fades.
  for (int y = 0; y < kTiles; ++y)
    for (int x = 0; x < kTiles; ++x)
      for (const auto& [dx, dy] : {std::pair(1, 0), std::pair(-1, 0), std::pair(0, 1), std::pair(0, -1)}) {
        const int u = x + dx, v = y + dy;
        if (u >= 0 && v >= 0 && u < kTiles && v < kTiles && leaked[v * kTiles + u])
          beside[y * kTiles + x] = true;
      }
  return std::erase_if(cells, [&](const record::Cell& c) {
    const double r = red.Off(c, 0);
    return leaked[tile(c)] || (beside[tile(c)] && r > kLifted / 2 && r - blue.Off(c, 2) > kWarmer / 2);
  });
}

}  // namespace samelight::pair
