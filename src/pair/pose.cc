#include "pair/pose.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/median.h"
#include "pair/apart.h"

namespace samelight::pair {
namespace {

constexpr double kStill_px = 2.5;    // matched places of things that did not move (parallax and noise)
constexpr double kFarthest_px = 12;  // beyond it nothing is learned: matched wrongly, or gone
constexpr double kElsewhere_px = 1.5;
constexpr int kTilesAcross = 24, kTilesDown = 18;
constexpr std::size_t kLeastVoices = 6;  // cells of any frames in a tile, for them to agree on something
constexpr int kTerms = 6;  // quadratic in place: turn, scale, perspective and lens to second order
constexpr std::size_t kLeastMatches = 2 * kTerms;

// Fitted on invented sessions by the conditional logit of McFadden 1974, "Conditional logit analysis of
// qualitative choice behavior": which of the frames that verify shows the scan's moment.
constexpr double kOfStill = 6.7, kOfOverlap = 6.5, kOfMoved = 2.2, kOfAlone = 0.4;
// Fitted by likelihood on invented places at which nobody moved, people moved by 0 to 14 px, and simulated
// weddings. Some scans show a moment that no frame has.
constexpr double kTellAtMost = 0.95, kHalfTold = 1.5, kSteep = 12;

struct Place {
  double ax, ay, bx, by;  // px of kPlaceSide
};

// How far, in px of a, b's places lie from the smooth map of a's that most of them follow; cut off at
// kFarthest_px. Iteratively reweighted least squares with the weights of Geman and McClure 1987.
std::vector<Eigen::Vector2d> Strays(const std::vector<Place>& places) {
  const long n = static_cast<long>(places.size());
  Eigen::MatrixXd x(n, kTerms), y(n, 2), stray;
  for (long i = 0; i < n; ++i) {
    const double u = places[i].ax / (kPlaceSide / 2) - 1, v = places[i].ay / (kPlaceSide / 2) - 0.75;
    x.row(i) << 1, u, v, u * u, u * v, v * v;
    y.row(i) << places[i].bx, places[i].by;
  }
  Eigen::VectorXd weight = Eigen::VectorXd::Ones(n);
  Eigen::MatrixXd map;
  double scale = 8;
  for (int round = 0; round < 12; ++round) {
    const Eigen::MatrixXd weighted = x.transpose() * weight.asDiagonal();
    const Eigen::MatrixXd normal = weighted * x + 1e-6 * Eigen::MatrixXd::Identity(kTerms, kTerms);
    map = normal.ldlt().solve(weighted * y);
    stray = y - x * map;
    weight = (1 + stray.rowwise().squaredNorm().array() / (scale * scale)).square().inverse();
    scale = std::max(1.5, 0.75 * scale);
  }
  Eigen::Matrix2d linear;  // b from a in the middle
  linear << map(1, 0), map(2, 0), map(1, 1), map(2, 1);
  linear /= kPlaceSide / 2;
  if (!(std::abs(linear.determinant()) > 1e-6))
    return std::vector<Eigen::Vector2d>(n, Eigen::Vector2d(kFarthest_px, 0));
  const Eigen::Matrix2d back = linear.inverse();
  std::vector<Eigen::Vector2d> out(n);
  for (long i = 0; i < n; ++i) {
    out[i] = back * stray.row(i).transpose();
    if (const double far = out[i].norm(); far > kFarthest_px) out[i] *= kFarthest_px / far;
  }
  return out;
}

int TileOf(const record::Cell& c) {
  return std::clamp(static_cast<int>(c.ay * kTilesDown), 0, kTilesDown - 1) * kTilesAcross +
         std::clamp(static_cast<int>(c.ax * kTilesAcross), 0, kTilesAcross - 1);
}

}  // namespace

Poses PosesOf(const View& scan, const std::vector<Other>& frames) {
  Poses poses{std::vector<Pose>(frames.size()), 0};
  std::vector<Pose>& out = poses.of;
  std::vector<std::vector<Eigen::Vector2d>> strays(frames.size());
  std::vector<std::vector<Stray>> placed(frames.size());
  std::vector<std::vector<double>> across(kTilesAcross * kTilesDown), down = across;
  for (std::size_t f = 0; f < frames.size(); ++f) {
    const Verified& verified = *frames[f].verified;
    const View& view = frames[f].view;
    std::vector<Place> places;
    for (const Inlier& i : verified.inliers) {
      const measure::Keypoint &p = scan.features->points[i.a], &q = view.features->points[i.b];
      places.push_back({p.x * scan.width, p.y * scan.height, q.x * view.width, q.y * view.height});
    }
    int still = 0;
    if (places.size() >= kLeastMatches)
      for (const Eigen::Vector2d& s : Strays(places)) still += s.norm() < kStill_px;
    // A share and no number: dark and grainy frames have fewer features of everything. Few matches say
    // little.
    out[f].still = (still + 5.0) / (verified.matches + 10.0);
    out[f].overlap = verified.overlap;
    out[f].moved_px = kFarthest_px;
    const std::vector<record::Cell>& cells = *frames[f].cells;
    if (static_cast<int>(cells.size()) < kLeastCells) continue;
    places.clear();
    for (const record::Cell& c : cells)
      places.push_back({c.ax * scan.width, c.ay * scan.height, c.bx * view.width, c.by * view.height});
    strays[f] = Strays(places);
    double sum = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      sum += strays[f][i].norm();
      placed[f].push_back({cells[i].ax, cells[i].ay, {strays[f][i].x(), strays[f][i].y()}});
      across[TileOf(cells[i])].push_back(strays[f][i].x());
      down[TileOf(cells[i])].push_back(strays[f][i].y());
    }
    out[f].moved_px = sum / static_cast<double>(cells.size());
  }
  std::vector<Eigen::Vector2d> common(across.size(), Eigen::Vector2d::Zero());
  for (std::size_t t = 0; t < common.size(); ++t)
    if (across[t].size() >= kLeastVoices) common[t] = {Median(across[t]), Median(down[t])};
  for (std::size_t f = 0; f < frames.size(); ++f) {
    if (strays[f].empty()) continue;
    double sum = 0;
    for (std::size_t i = 0; i < strays[f].size(); ++i) {
      const Eigen::Vector2d& they = common[TileOf((*frames[f].cells)[i])];
      if (they.norm() > kElsewhere_px) sum += they.dot(they - strays[f][i]);
    }
    out[f].alone_px2 = sum / static_cast<double>(strays[f].size());
  }
  poses.apart = HowFarApart(placed);
  return poses;
}

double PoseLog(const Pose& pose) {
  return kOfStill * std::log(pose.still) + kOfOverlap * std::log(pose.overlap + 0.02) -
         kOfMoved * pose.moved_px + kOfAlone * pose.alone_px2;
}

double PosesTell(double apart) {
  return apart > 0 ? kTellAtMost / (1 + std::pow(kHalfTold / apart, kSteep)) : 0;
}

std::vector<double> BehindTheLikeliest(const std::vector<double>& pose_logs, double tell) {
  if (pose_logs.empty()) return {};
  const double best = *std::max_element(pose_logs.begin(), pose_logs.end());
  double sum = 0;
  for (double p : pose_logs) sum += std::exp(p - best);
  const double share = tell * static_cast<double>(pose_logs.size()) / sum;
  std::vector<double> out;
  for (double p : pose_logs)
    out.push_back(std::log((share * std::exp(p - best) + 1 - tell) / (share + 1 - tell)));
  return out;
}

}  // namespace samelight::pair
