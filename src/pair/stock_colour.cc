#include "pair/stock_colour.h"

#include <Eigen/Dense>
#include <cmath>
#include <map>

namespace samelight::pair {
namespace {

constexpr int kLeastScans = 8;
constexpr std::size_t kLeastCells = 40;
constexpr double kUnlike = 40;
constexpr double kLeastSpread = 0.02;  // nothing is known better
constexpr double kPrior = 0.02;        // weight of "as in the frame", for colours that hardly occur
// Levels at which scan and frame both render faithfully, linear.
constexpr float kDarkScan = 0.01f, kLightScan = 0.8f, kDarkFrame = 0.002f;

// Of red - green, blue - green, level, level squared in the frame on red - green, blue - green, level of the
// scan.
struct Sums {
  Eigen::Matrix4d of_frame = Eigen::Matrix4d::Zero();
  Eigen::Matrix<double, 4, 3> with_scan = Eigen::Matrix<double, 4, 3>::Zero();
};

bool Add(const record::Correspondence& c, Sums& sums) {
  std::vector<Eigen::Vector4d> x;
  std::vector<Eigen::Vector3d> y;
  std::vector<double> weight;
  Eigen::Vector4d x_mean = Eigen::Vector4d::Zero();
  Eigen::Vector3d y_mean = Eigen::Vector3d::Zero();
  double total = 0;
  for (const record::Cell& cell : c.cells) {
    Eigen::Vector3d a, b;
    bool good = true;
    for (int k = 0; k < 3; ++k) {
      good = good && cell.a_rgb[k] > kDarkScan && cell.a_rgb[k] < kLightScan && cell.b_rgb[k] > kDarkFrame;
      a[k] = std::log2(cell.a_rgb[k]);
      b[k] = std::log2(cell.b_rgb[k]);
    }
    if (!good) continue;
    x.emplace_back(b[0] - b[1], b[2] - b[1], b[1], 0);
    y.emplace_back(a[0] - a[1], a[2] - a[1], a[1]);
    weight.push_back(cell.weight);
    x_mean += cell.weight * x.back();
    y_mean += cell.weight * y.back();
    total += cell.weight;
  }
  if (x.size() < kLeastCells || !(total > 0)) return false;
  x_mean /= total;
  y_mean /= total;
  for (std::size_t i = 0; i < x.size(); ++i) {
    Eigen::Vector4d u = x[i] - x_mean;
    u[3] = u[2] * u[2];
    sums.of_frame += weight[i] / total * u * u.transpose();
    sums.with_scan += weight[i] / total * u * (y[i] - y_mean).transpose();
  }
  return true;
}

using Terms = Eigen::Matrix<double, kColourTerms, 1>;

Terms Fit(const std::vector<Sums>& scans, int without) {
  Sums all;
  const double weight = kPrior * static_cast<double>(scans.size());
  all.of_frame = weight * Eigen::Matrix4d::Identity();
  for (int k = 0; k < 3; ++k) all.with_scan(k, k) = weight;
  for (int i = 0; i < static_cast<int>(scans.size()); ++i)
    if (i != without) {
      all.of_frame += scans[i].of_frame;
      all.with_scan += scans[i].with_scan;
    }
  const Eigen::Matrix<double, 4, 3> map = all.of_frame.ldlt().solve(all.with_scan);
  Terms out;
  out << map(0, 0), map(1, 0), map(2, 0), map(0, 1), map(1, 1), map(2, 1), map(2, 2), map(3, 2);
  return out;
}

}  // namespace

RollColour ColourOf(const std::vector<const record::Correspondence*>& matches) {
  std::map<PhotoId, std::pair<Sums, int>> by_scan;
  for (const record::Correspondence* c : matches) {
    Sums sums;
    if (!Add(*c, sums)) continue;
    auto& [of_scan, count] = by_scan[c->a];
    of_scan.of_frame += sums.of_frame;
    of_scan.with_scan += sums.with_scan;
    ++count;
  }
  std::vector<Sums> scans;  // each counts once
  for (auto& [id, entry] : by_scan)
    scans.push_back({entry.first.of_frame / entry.second, entry.first.with_scan / entry.second});
  RollColour out;
  out.scans = static_cast<int>(scans.size());
  if (scans.empty()) return out;
  const Terms value = Fit(scans, -1);
  std::vector<Terms> without;
  Terms mean = Terms::Zero(), spread = Terms::Zero();
  for (int i = 0; i < out.scans; ++i) {
    without.push_back(Fit(scans, i));
    mean += without.back() / out.scans;
  }
  for (const Terms& t : without) spread += (t - mean).cwiseAbs2();
  spread *= (out.scans - 1.0) / out.scans;
  for (int k = 0; k < kColourTerms; ++k) {
    out.value[k] = value[k];
    out.spread[k] = std::sqrt(spread[k]);
  }
  return out;
}

bool RenderUnlike(const RollColour& a, const RollColour& b) {
  if (a.scans < kLeastScans || b.scans < kLeastScans) return false;
  double sum = 0;
  for (int k = 0; k < kColourTerms; ++k)
    sum += std::pow(a.value[k] - b.value[k], 2) /
           (a.spread[k] * a.spread[k] + b.spread[k] * b.spread[k] + kLeastSpread * kLeastSpread);
  return sum > kUnlike;
}

}  // namespace samelight::pair
