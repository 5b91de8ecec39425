#include "pair/verify.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <set>

namespace samelight::pair {
namespace {

constexpr int kMostParts = 4;
constexpr int kLeastOfPart = 5;
constexpr double kCoarse_px = 26;    // agreement with one match's own similarity
constexpr double kFine_px = 9;       // agreement with a fitted map; leaves room for parallax
constexpr double kScaleStep = 0.6;   // log2: how far apart scales of one part may lie
constexpr double kTurn_deg = 28;     // and turns
constexpr double kDistinct_px = 14;  // closer inliers count once

struct Spot {
  double ax, ay, bx, by;
  double scale, turn_deg;  // of b against a, as this match alone says
  int index;               // in the list of matches
};

double TurnDifference(double a, double b) { return std::abs(std::remainder(a - b, 360.0)); }

// b = linear * a + shift.
struct Affine {
  Eigen::Matrix2d linear = Eigen::Matrix2d::Identity();
  Eigen::Vector2d shift = Eigen::Vector2d::Zero();
  Eigen::Vector2d operator()(double x, double y) const { return linear * Eigen::Vector2d(x, y) + shift; }
};

Affine FromOne(const Spot& s, bool mirrored) {
  // Angles grow clockwise on the screen in both pictures. A mirrored map turns a's direction t into turn - t.
  const double t = s.turn_deg * M_PI / 180, c = s.scale * std::cos(t), n = s.scale * std::sin(t);
  Affine out;
  if (mirrored)
    out.linear << c, n, n, -c;
  else
    out.linear << c, -n, n, c;
  out.shift = Eigen::Vector2d(s.bx, s.by) - out.linear * Eigen::Vector2d(s.ax, s.ay);
  return out;
}

// Least squares over the chosen; similarity for few, affine for more.
Affine Fit(const std::vector<Spot>& spots, const std::vector<int>& chosen, bool mirrored) {
  Eigen::Vector2d ca = Eigen::Vector2d::Zero(), cb = ca;
  for (int i : chosen) {
    ca += Eigen::Vector2d(spots[i].ax, spots[i].ay);
    cb += Eigen::Vector2d(spots[i].bx, spots[i].by);
  }
  ca /= chosen.size();
  cb /= chosen.size();
  Affine out;
  if (chosen.size() < 8) {
    double saa = 0, c = 0, n = 0;
    const double flip = mirrored ? -1 : 1;
    for (int i : chosen) {
      const double x = spots[i].ax - ca.x(), y = flip * (spots[i].ay - ca.y());
      const double u = spots[i].bx - cb.x(), v = spots[i].by - cb.y();
      saa += x * x + y * y;
      c += x * u + y * v;
      n += x * v - y * u;
    }
    c /= std::max(saa, 1e-9);
    n /= std::max(saa, 1e-9);
    out.linear << c, -n * flip, n, c * flip;
  } else {
    Eigen::Matrix2d aa = Eigen::Matrix2d::Zero(), ba = aa;
    for (int i : chosen) {
      const Eigen::Vector2d p = Eigen::Vector2d(spots[i].ax, spots[i].ay) - ca;
      const Eigen::Vector2d q = Eigen::Vector2d(spots[i].bx, spots[i].by) - cb;
      aa += p * p.transpose();
      ba += q * p.transpose();
    }
    aa += Eigen::Matrix2d::Identity() * 1e-6 * (aa.trace() + 1);
    out.linear = ba * aa.inverse();
  }
  out.shift = cb - out.linear * ca;
  return out;
}

bool Plausible(const Affine& m, bool mirrored) {
  const double det = m.linear.determinant();
  if (mirrored ? det >= 0 : det <= 0) return false;
  const Eigen::JacobiSVD<Eigen::Matrix2d> svd(m.linear);
  const double most = svd.singularValues()(0), least = svd.singularValues()(1);
  return least > 0.1 && most < 10 && most / least < 3;
}

std::vector<int> Near(const std::vector<Spot>& spots, const std::vector<int>& among, const Affine& map,
                      double most_px) {
  std::vector<int> out;
  for (int i : among) {
    const Eigen::Vector2d p = map(spots[i].ax, spots[i].ay);
    const double dx = p.x() - spots[i].bx, dy = p.y() - spots[i].by;
    if (dx * dx + dy * dy < most_px * most_px) out.push_back(i);
  }
  return out;
}

// The largest group of the matches left that agree on one map.
std::vector<int> LargestPart(const std::vector<Spot>& spots, const std::vector<int>& left, bool mirrored,
                             Affine& map) {
  std::vector<int> best;
  for (int seed : left) {
    const Affine guess = FromOne(spots[seed], mirrored);
    std::vector<int> near = Near(spots, left, guess, kCoarse_px * std::clamp(spots[seed].scale, 0.5, 2.0));
    std::erase_if(near, [&](int i) {
      return std::abs(std::log2(spots[i].scale / spots[seed].scale)) > kScaleStep ||
             TurnDifference(spots[i].turn_deg, spots[seed].turn_deg) > kTurn_deg;
    });
    if (near.size() > best.size()) best = std::move(near);
  }
  if (static_cast<int>(best.size()) < kLeastOfPart) return {};
  for (double tolerance : {kCoarse_px, 1.5 * kFine_px, kFine_px, kFine_px}) {
    map = Fit(spots, best, mirrored);
    if (!Plausible(map, mirrored)) return {};
    std::vector<int> near = Near(spots, left, map, tolerance);
    std::erase_if(near, [&](int i) {
      const double scale = std::sqrt(std::abs(map.linear.determinant()));
      return std::abs(std::log2(spots[i].scale / scale)) > 2 * kScaleStep;
    });
    if (static_cast<int>(near.size()) < kLeastOfPart) return {};
    best = std::move(near);
  }
  return best;
}

// Homography by least squares on the normalised equations; falls back to the affine map when it would not be
// sane.
Homography Refine(const std::vector<Spot>& spots, const std::vector<int>& chosen, const Affine& affine) {
  const Homography plain{affine.linear(0, 0),
                         affine.linear(0, 1),
                         affine.shift.x(),
                         affine.linear(1, 0),
                         affine.linear(1, 1),
                         affine.shift.y(),
                         0,
                         0,
                         1};
  if (chosen.size() < 16) return plain;
  const double s = 2.0 / kPlaceSide;
  Eigen::MatrixXd m(2 * chosen.size(), 8);
  Eigen::VectorXd y(2 * chosen.size());
  int r = 0;
  for (int i : chosen) {
    const double ax = spots[i].ax * s - 1, ay = spots[i].ay * s - 1, bx = spots[i].bx * s - 1,
                 by = spots[i].by * s - 1;
    m.row(r) << ax, ay, 1, 0, 0, 0, -ax * bx, -ay * bx;
    y(r++) = bx;
    m.row(r) << 0, 0, 0, ax, ay, 1, -ax * by, -ay * by;
    y(r++) = by;
  }
  Eigen::MatrixXd normal = m.transpose() * m;
  // The perspective terms are small in life; a weak prior keeps them so when the places do not say.
  const double weight = 0.02 * static_cast<double>(chosen.size());
  normal(6, 6) += weight;
  normal(7, 7) += weight;
  const Eigen::VectorXd h = normal.ldlt().solve(m.transpose() * y);
  if (!h.allFinite() || std::abs(h(6)) + std::abs(h(7)) > 0.5) return plain;
  Eigen::Matrix3d n, t, back;
  n << h(0), h(1), h(2), h(3), h(4), h(5), h(6), h(7), 1;
  t << s, 0, -1, 0, s, -1, 0, 0, 1;
  const Eigen::Matrix3d full = t.inverse() * n * t;
  Homography out;
  for (int i = 0; i < 9; ++i) out[i] = full(i / 3, i % 3) / full(2, 2);
  return out;
}

double LogFactorial(int n) { return std::lgamma(n + 1.0); }

// -log10 of (number of hypotheses x probability that at least k of n chance matches agree with one of them).
double Evidence(int n, int k, int parts, double chance) {
  if (k < 3) return 0;
  const int trials = n - 1, hits = k - 1;
  double tail = 0, largest = -1e300;
  std::vector<double> terms;
  for (int i = hits; i <= trials; ++i) {
    const double term = LogFactorial(trials) - LogFactorial(i) - LogFactorial(trials - i) +
                        i * std::log(chance) + (trials - i) * std::log1p(-chance);
    terms.push_back(term);
    largest = std::max(largest, term);
  }
  for (double t : terms) tail += std::exp(t - largest);
  return -(largest + std::log(tail) + std::log(static_cast<double>(n) * parts)) / std::log(10.0);
}

}  // namespace

View::View(const measure::Features& f, int width_px, int height_px, std::string content_hash)
    : features(&f), hash(std::move(content_hash)) {
  const float longest = static_cast<float>(std::max({width_px, height_px, 1}));
  width = kPlaceSide * static_cast<float>(width_px) / longest;
  height = kPlaceSide * static_cast<float>(height_px) / longest;
}

std::optional<std::array<double, 2>> Transform(const Homography& h, double x, double y) {
  const double w = h[6] * x + h[7] * y + h[8];
  if (w < 1e-6) return std::nullopt;
  return std::array<double, 2>{(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w};
}

Homography Inverse(const Homography& h) {
  Eigen::Matrix3d m;
  m << h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8];
  const Eigen::Matrix3d inverse = m.inverse();
  Homography out;
  for (int i = 0; i < 9; ++i) out[i] = inverse(i / 3, i % 3) / inverse(2, 2);
  return out;
}

Verified Agree(const View& a, const View& b, const std::vector<Match>& matches, bool mirrored) {
  Verified out;
  out.mirrored = mirrored;
  out.matches = static_cast<int>(matches.size());
  std::vector<Spot> spots;
  std::vector<int> left;
  for (int i = 0; i < out.matches; ++i) {
    const measure::Keypoint& p = a.features->points[matches[i].a];
    const measure::Keypoint& q = b.features->points[matches[i].b];
    const double turn = mirrored ? q.angle_deg + p.angle_deg : q.angle_deg - p.angle_deg;
    spots.push_back({p.x * a.width, p.y * a.height, q.x * b.width, q.y * b.height,
                     static_cast<double>(q.size) / std::max(p.size, 1e-3f), turn, i});
    left.push_back(i);
  }
  std::set<std::pair<int, int>> seen_a, seen_b;
  for (int part = 0; part < kMostParts && static_cast<int>(left.size()) >= kLeastOfPart; ++part) {
    Affine map;
    const std::vector<int> chosen = LargestPart(spots, left, mirrored, map);
    if (chosen.empty()) break;
    if (part == 0) out.b_from_a = Refine(spots, chosen, map);
    for (int i : chosen) {
      out.inliers.push_back({matches[i].a, matches[i].b, part});
      const auto cell = [](double x, double y) {
        return std::pair(static_cast<int>(x / kDistinct_px), static_cast<int>(y / kDistinct_px));
      };
      const bool new_a = seen_a.insert(cell(spots[i].ax, spots[i].ay)).second;
      const bool new_b = seen_b.insert(cell(spots[i].bx, spots[i].by)).second;
      if (new_a && new_b) ++out.distinct;
    }
    std::erase_if(left, [&](int i) { return std::binary_search(chosen.begin(), chosen.end(), i); });
  }
  if (out.inliers.empty()) return out;
  const double chance = std::min(0.5, M_PI * kCoarse_px * kCoarse_px / (b.width * b.height) * 0.1);
  out.evidence = Evidence(std::max(out.matches, out.distinct), out.distinct, kMostParts, chance);

  int inside = 0;
  for (const measure::Keypoint& p : a.features->points) {
    const auto q = Transform(out.b_from_a, p.x * a.width, p.y * a.height);
    if (q && (*q)[0] >= 0 && (*q)[1] >= 0 && (*q)[0] < b.width && (*q)[1] < b.height) ++inside;
  }
  out.inlier_ratio = static_cast<double>(out.inliers.size()) / std::max<int>(inside, out.inliers.size());
  int shown = 0;
  constexpr int kSteps = 16;
  for (int i = 0; i < kSteps * kSteps; ++i) {
    const auto q = Transform(out.b_from_a, (i % kSteps + 0.5) / kSteps * a.width,
                             (i / kSteps + 0.5) / kSteps * a.height);
    if (q && (*q)[0] >= 0 && (*q)[1] >= 0 && (*q)[0] < b.width && (*q)[1] < b.height) ++shown;
  }
  out.overlap = static_cast<double>(shown) / (kSteps * kSteps);
  return out;
}

Verified Verify(const View& a, const View& b, int most_features) {
  const TargetSide target(*b.features, most_features);
  Verified plain = Agree(a, b, target.Find(QuerySide(*a.features, most_features, false), kRatio), false);
  Verified mirrored = Agree(a, b, target.Find(QuerySide(*a.features, most_features, true), kRatio), true);
  return mirrored.evidence > plain.evidence ? mirrored : plain;
}

}  // namespace samelight::pair
