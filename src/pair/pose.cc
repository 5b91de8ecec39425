#include "pair/pose.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace samelight::pair {
namespace {

constexpr double kStill_px = 2.5;     // matched places of things that did not move (parallax and noise)
constexpr double kOtherMoment = 0.1;  // scans that show a moment of their own
constexpr double kFarthest_px = 12;   // beyond it nothing is learned: matched wrongly, or gone
constexpr int kTerms = 6;             // quadratic in place: turn, scale, perspective and lens to second order
constexpr std::size_t kLeastMatches = 2 * kTerms;

// Fitted on invented sessions by the conditional logit of McFadden 1974, "Conditional logit analysis of
// qualitative choice behavior": which of the frames that verify shows the scan's moment.
constexpr double kOfStill = 8, kOfOverlap = 6.5, kOfMoved = 2.6;

struct Place {
  double ax, ay, bx, by;  // px of kPlaceSide
};

// Distances of b's places from the smooth map of a's that most of them follow, in px of a. Iteratively
// reweighted least squares with the weights of Geman and McClure 1987.
std::vector<double> Strays(const std::vector<Place>& places) {
  const long n = static_cast<long>(places.size());
  Eigen::MatrixXd x(n, kTerms), y(n, 2);
  for (long i = 0; i < n; ++i) {
    const double u = places[i].ax / (kPlaceSide / 2) - 1, v = places[i].ay / (kPlaceSide / 2) - 0.75;
    x.row(i) << 1, u, v, u * u, u * v, v * v;
    y.row(i) << places[i].bx, places[i].by;
  }
  Eigen::VectorXd weight = Eigen::VectorXd::Ones(n), stray(n);
  Eigen::MatrixXd map;
  double scale = 8;
  for (int round = 0; round < 12; ++round) {
    const Eigen::MatrixXd weighted = x.transpose() * weight.asDiagonal();
    const Eigen::MatrixXd normal = weighted * x + 1e-6 * Eigen::MatrixXd::Identity(kTerms, kTerms);
    map = normal.ldlt().solve(weighted * y);
    stray = (y - x * map).rowwise().norm();
    weight = (1 + stray.array().square() / (scale * scale)).square().inverse();
    scale = std::max(1.5, 0.75 * scale);
  }
  const double area = std::abs(map(1, 0) * map(2, 1) - map(2, 0) * map(1, 1));
  const double of_a = std::sqrt(std::max(area, 1e-9)) / (kPlaceSide / 2);
  std::vector<double> out(n);
  for (long i = 0; i < n; ++i) out[i] = stray(i) / of_a;
  return out;
}

}  // namespace

Pose PoseOf(const View& a, const View& b, const Verified& verified, const std::vector<record::Cell>& cells) {
  Pose out;
  out.overlap = verified.overlap;
  out.moved_px = kFarthest_px;
  std::vector<Place> places;
  for (const Inlier& i : verified.inliers) {
    const measure::Keypoint &p = a.features->points[i.a], &q = b.features->points[i.b];
    places.push_back({p.x * a.width, p.y * a.height, q.x * b.width, q.y * b.height});
  }
  int still = 0;
  if (places.size() >= kLeastMatches)
    for (double s : Strays(places)) still += s < kStill_px;
  // A share and no number: dark and grainy frames have fewer features of everything. Few matches say little.
  out.still = (still + 5.0) / (verified.matches + 10.0);
  if (static_cast<int>(cells.size()) < kLeastCells) return out;
  places.clear();
  for (const record::Cell& c : cells)
    places.push_back({c.ax * a.width, c.ay * a.height, c.bx * b.width, c.by * b.height});
  double sum = 0;
  for (double s : Strays(places)) sum += std::min(s, kFarthest_px);
  out.moved_px = sum / static_cast<double>(cells.size());
  return out;
}

double PoseLog(const Pose& pose) {
  return kOfStill * std::log(pose.still) + kOfOverlap * std::log(pose.overlap + 0.02) -
         kOfMoved * pose.moved_px;
}

std::vector<double> BehindTheLikeliest(const std::vector<double>& pose_logs) {
  if (pose_logs.empty()) return {};
  const double best = *std::max_element(pose_logs.begin(), pose_logs.end());
  double sum = 0;
  for (double p : pose_logs) sum += std::exp(p - best);
  const double share = (1 - kOtherMoment) * static_cast<double>(pose_logs.size()) / sum;
  std::vector<double> out;
  for (double p : pose_logs)
    out.push_back(std::log((share * std::exp(p - best) + kOtherMoment) / (share + kOtherMoment)));
  return out;
}

}  // namespace samelight::pair
