#include "pair/odd_scans.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "pair/evidence.h"

namespace samelight::pair {
namespace {

constexpr std::size_t kTried = 6;  // best frames that are compared with each other
constexpr double kCovers = 0.4;    // of the scan, by both
constexpr double kSure = 8;        // evidence; unrelated pictures reach 2
constexpr double kAmong = 0.2;     // of the picture's sides
constexpr int kFeatures = 600;
constexpr double kInCommon = 0.1;       // of the scan's features that one frame matches: the other does too
constexpr int kTiles = 5;               // per side
constexpr std::size_t kLeastCells = 4;  // in a tile that can tell
constexpr std::size_t kLeastTiles = 8;  // of those, for a scan that can tell
// A leak: red over blue, and red, above what the rest of the scan lets expect of the frame, log2; and so many
// times what tiles stray. On invented scans one of 164 without a leak is taken for one.
constexpr double kWarmer = 0.3, kLifted = 0.15, kWarmerTimes = 2.5, kLiftedTimes = 1.5;

double Quantile(std::vector<double> values, double q) {
  const auto at = values.begin() + static_cast<long>(q * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

// What is left of y over a line in three quantities of each cell; iteratively reweighted least squares with
// the weights of Geman and McClure 1987, so that a leak does not bend it.
std::vector<double> Rest(const Eigen::MatrixXd& x, const Eigen::VectorXd& y) {
  Eigen::VectorXd weight = Eigen::VectorXd::Ones(y.size()), rest;
  double scale = 1;
  for (int round = 0; round < 8; ++round) {
    const Eigen::MatrixXd weighted = x.transpose() * weight.asDiagonal();
    const Eigen::MatrixXd normal = weighted * x + 1e-3 * Eigen::MatrixXd::Identity(x.cols(), x.cols());
    rest = y - x * normal.ldlt().solve(weighted * y);
    weight = (1 + rest.array().square() / (scale * scale)).square().inverse();
    scale = std::max(0.3, 0.8 * scale);
  }
  return {rest.data(), rest.data() + rest.size()};
}

// Of each cell: how far red over blue, and red, lie above what the frame's colours let expect.
struct Excess {
  std::vector<double> warmth, red;
};
Excess ExcessOf(const std::vector<record::Cell>& cells) {
  const long n = static_cast<long>(cells.size());
  Eigen::MatrixXd of_warmth(n, 4), of_red(n, 4);
  Eigen::VectorXd warmth(n), red(n);
  for (long i = 0; i < n; ++i) {
    double a[3], b[3];
    for (int k = 0; k < 3; ++k) {
      a[k] = std::log2(std::max(cells[i].a_rgb[k], 1e-4f));
      b[k] = std::log2(std::max(cells[i].b_rgb[k], 1e-4f));
    }
    of_warmth.row(i) << 1, b[0] - b[2], b[1], b[1] * b[1];
    of_red.row(i) << 1, b[0] - b[1], b[1], b[1] * b[1];
    warmth[i] = a[0] - a[2];
    red[i] = a[0];
  }
  return {Rest(of_warmth, warmth), Rest(of_red, red)};
}

// Middle of the tiles' medians and how far they stray (median absolute deviation times 1.48, as of a
// Gaussian).
struct Usual {
  double middle = 0, stray = 0;
};
Usual UsualOf(const std::vector<std::vector<double>>& tiles) {
  std::vector<double> medians;
  for (const std::vector<double>& t : tiles)
    if (t.size() >= kLeastCells) medians.push_back(Quantile(t, 0.5));
  if (medians.size() < kLeastTiles) return {0, std::numeric_limits<double>::infinity()};
  Usual out{Quantile(medians, 0.5), 0};
  for (double& m : medians) m = std::abs(m - out.middle);
  out.stray = 1.48 * Quantile(medians, 0.5);
  return out;
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
  // What one exposure drew is not in the other: frames that match the same features of the scan show the same
  // things, even where they do not verify with each other (dim ones, with few features).
  const auto in_common = [](const Shown& a, const Shown& b) {
    std::set<int> of_a;
    for (const Inlier& i : a.verified.inliers) of_a.insert(i.a);
    const auto both = std::count_if(b.verified.inliers.begin(), b.verified.inliers.end(),
                                    [&](const Inlier& i) { return of_a.contains(i.a); });
    return static_cast<double>(both) /
           static_cast<double>(std::min(a.verified.inliers.size(), b.verified.inliers.size()));
  };
  for (std::size_t k = 1; k < strong.size(); ++k) {
    if (in_common(*strong[0], *strong[k]) > kInCommon) continue;
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
  const Excess excess = ExcessOf(cells);
  const auto tile = [](const record::Cell& c) {
    const auto step = [](float v) { return std::clamp(static_cast<int>(v * kTiles), 0, kTiles - 1); };
    return step(c.ay) * kTiles + step(c.ax);
  };
  std::vector<std::vector<double>> warmth(kTiles * kTiles), red = warmth;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    warmth[tile(cells[i])].push_back(excess.warmth[i]);
    red[tile(cells[i])].push_back(excess.red[i]);
  }
  const Usual w = UsualOf(warmth), r = UsualOf(red);
  const auto beside = [](const std::vector<bool>& tiles, int x, int y) {
    for (const auto& [dx, dy] : {std::pair(1, 0), std::pair(-1, 0), std::pair(0, 1), std::pair(0, -1)}) {
      const int u = x + dx, v = y + dy;
      if (u >= 0 && v >= 0 && u < kTiles && v < kTiles && tiles[v * kTiles + u]) return true;
    }
    return false;
  };
  std::vector<bool> warm(warmth.size(), false), leaked = warm, near = warm;
  for (int t = 0; t < kTiles * kTiles; ++t) {
    const int x = t % kTiles, y = t / kTiles;
    const bool edge = x == 0 || y == 0 || x == kTiles - 1 || y == kTiles - 1;
    warm[t] = edge && warmth[t].size() >= kLeastCells &&
              Quantile(warmth[t], 0.5) - w.middle > std::max(kWarmer, kWarmerTimes * w.stray) &&
              Quantile(warmth[t], 0.25) - w.middle > kWarmer / 2 &&
              Quantile(red[t], 0.5) - r.middle > std::max(kLifted, kLiftedTimes * r.stray);
  }
  // A leak runs along its edge, and what lies beside it fades.
  for (int t = 0; t < kTiles * kTiles; ++t) leaked[t] = warm[t] && beside(warm, t % kTiles, t / kTiles);
  for (int t = 0; t < kTiles * kTiles; ++t) near[t] = beside(leaked, t % kTiles, t / kTiles);
  std::vector<record::Cell> kept;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const int t = tile(cells[i]);
    const bool fading = near[t] && excess.warmth[i] - w.middle > kWarmer / 2 && excess.red[i] > r.middle;
    if (!leaked[t] && !fading) kept.push_back(cells[i]);
  }
  const std::size_t dropped = cells.size() - kept.size();
  cells = std::move(kept);
  return dropped;
}

}  // namespace samelight::pair
