#include "pair/stock_colour.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>

namespace samelight::pair {
namespace {

using Eigen::Matrix4d;
using Eigen::MatrixXd;
using Eigen::Vector4d;
using Eigen::VectorXd;
using Sums = Eigen::Matrix<double, 4, 3>;

constexpr int kOutputs = 3, kTerms = 4;
constexpr int kLeastScans = 4;  // on each side
constexpr std::size_t kLeastCells = 40;
// Levels at which scan and frame both render faithfully, linear.
constexpr float kDarkScan = 0.01f, kLightScan = 0.8f, kDarkFrame = 0.002f;
constexpr double kChange = 0.05;  // part of the series that hold two colour stocks (a guess)
constexpr int kNear = 2;          // scans: a change is not known better

// Standard deviations of the map's terms (output by term) from stock to stock, light to light, scan to scan
// and body to body, and of single places about the map: of five invented films, three stocks each, in ten
// lights before two of four measured cameras (spectral_testing.h, seeds 1 to 5).
constexpr double kStock[kOutputs][kTerms] = {
    {0.08, 0.06, 0.045, 0.005}, {0.035, 0.095, 0.07, 0.005}, {0.04, 0.09, 0.125, 0.01}};
constexpr double kLight[kOutputs][kTerms] = {
    {0.09, 0.045, 0.035, 0.006}, {0.17, 0.12, 0.036, 0.016}, {0.08, 0.035, 0.036, 0.012}};
constexpr double kScan[kOutputs][kTerms] = {
    {0.13, 0.09, 0.037, 0.012}, {0.175, 0.19, 0.052, 0.018}, {0.125, 0.08, 0.06, 0.025}};
constexpr double kBody[kOutputs][kTerms] = {
    {0.015, 0.011, 0.003, 0.001}, {0.08, 0.11, 0.02, 0.001}, {0.017, 0.012, 0.005, 0.001}};
constexpr double kPlace[kOutputs] = {0.145, 0.18, 0.165};
// The variances are guessed, and no film is linear: what the odds say counts by this part. On the seeds of
// the tuning without it, one stock was taken for two with 0.94 and 0.99 in two series of sixty.
constexpr double kCounts = 0.6;
constexpr double kMostPlaces = 40;                     // neighbouring places say the same
constexpr double kAnyFilm = 0.3;                       // about "as in the frame"
constexpr double kAlike_mired = 60, kAlikePart = 0.5;  // of what a light does, lights of like colour do too

Vector4d Variances(const double (&deviations)[kTerms]) {
  Vector4d out;
  for (int k = 0; k < kTerms; ++k) out[k] = deviations[k] * deviations[k];
  return out;
}

// Of red - green, blue - green, level, level squared in the frame on red - green, blue - green, level of the
// scan; means taken out. False with too few places.
bool Add(const record::Correspondence& c, Matrix4d& of_frame, Sums& with_scan) {
  std::vector<Vector4d> x;
  std::vector<Eigen::Vector3d> y;
  std::vector<double> weight;
  Vector4d x_mean = Vector4d::Zero();
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
    Vector4d u = x[i] - x_mean;
    u[3] = u[2] * u[2];
    of_frame += weight[i] / total * u * u.transpose();
    with_scan += weight[i] / total * u * (y[i] - y_mean).transpose();
  }
  return true;
}

}  // namespace

namespace {
struct Scan {
  int rank, body, light;
  double mired;
  int at[3];  // where the common map, its light's and its body's begin among what is common
  // Per output: what the scan says of the map (information matrix, and its product with the map), its own
  // chance taken out.
  Matrix4d information[kOutputs];
  Vector4d says[kOutputs];
};

std::vector<Scan> ScansOf(const std::vector<FilmedPlaces>& places) {
  std::vector<Scan> out;
  struct Seen {
    Matrix4d of_frame = Matrix4d::Zero();
    Sums with_scan = Sums::Zero();
    int count = 0;
    const FilmedPlaces* any = nullptr;
  };
  std::map<int, std::map<int, Seen>> seen;  // by scan and body
  for (const FilmedPlaces& p : places) {
    Seen& s = seen[p.scan][p.body];
    if (!Add(*p.matches, s.of_frame, s.with_scan)) continue;
    ++s.count;
    s.any = &p;
  }
  for (const auto& [rank, bodies] : seen) {
    const Seen* most = nullptr;  // one body says it all: two of one scan are not independent
    for (const auto& [body, s] : bodies)
      if (s.count > 0 && (most == nullptr || s.count > most->count)) most = &s;
    if (most == nullptr) continue;
    Scan scan{rank, most->any->body, most->any->light, most->any->mired, {}, {}, {}};
    for (int k = 0; k < kOutputs; ++k) {
      const double weight = kMostPlaces / (kPlace[k] * kPlace[k]) / most->count;
      const Matrix4d all = weight * most->of_frame;
      Vector4d said = weight * most->with_scan.col(k);
      said -= all.col(k);  // the map is told as what it differs from "as in the frame"
      Matrix4d with_chance = all;
      with_chance.diagonal() += Variances(kScan[k]).cwiseInverse();
      const Eigen::LDLT<Matrix4d> solve(with_chance);
      scan.information[k] = all - all * solve.solve(all);
      scan.says[k] = said - all * solve.solve(said);
    }
    out.push_back(scan);
  }
  return out;
}
}  // namespace

struct StockColours::Impl {
  std::vector<Scan> scans;  // by rank
  // What is common to all, by output: its precision, and what it is as told by all scans.
  Eigen::LDLT<MatrixXd> common[kOutputs];
  VectorXd map[kOutputs];
};

StockColours::StockColours(const std::vector<FilmedPlaces>& places) {
  auto impl = std::make_shared<Impl>();
  impl_ = impl;
  impl->scans = ScansOf(places);
  if (impl->scans.empty()) return;
  // What is common: the map of all, of each light, of each body.
  std::map<int, int> lights, bodies;
  std::vector<double> mired;
  for (const Scan& s : impl->scans) {
    if (lights.emplace(s.light, static_cast<int>(lights.size())).second) mired.push_back(s.mired);
    bodies.emplace(s.body, static_cast<int>(bodies.size()));
  }
  const int l = static_cast<int>(lights.size()), b = static_cast<int>(bodies.size());
  MatrixXd alike(l, l);
  for (int i = 0; i < l; ++i)
    for (int j = 0; j < l; ++j) {
      const double apart = (mired[i] - mired[j]) / kAlike_mired;
      alike(i, j) = kAlikePart * std::exp(-apart * apart / 2) + (i == j ? 1 - kAlikePart : 0);
    }
  const MatrixXd unlike = alike.inverse();
  for (int k = 0; k < kOutputs; ++k) {
    MatrixXd precision = MatrixXd::Zero(kTerms * (1 + l + b), kTerms * (1 + l + b));
    const Vector4d of_light = Variances(kLight[k]), of_body = Variances(kBody[k]);
    for (int t = 0; t < kTerms; ++t) {
      precision(t, t) = 1 / (kAnyFilm * kAnyFilm);
      for (int i = 0; i < l; ++i)
        for (int j = 0; j < l; ++j)
          precision(kTerms * (1 + i) + t, kTerms * (1 + j) + t) = unlike(i, j) / of_light[t];
      for (int i = 0; i < b; ++i)
        precision(kTerms * (1 + l + i) + t, kTerms * (1 + l + i) + t) = 1 / of_body[t];
    }
    VectorXd said = VectorXd::Zero(precision.rows());
    for (Scan& s : impl->scans) {
      const int at[3] = {0, kTerms * (1 + lights[s.light]), kTerms * (1 + l + bodies[s.body])};
      std::copy_n(at, 3, s.at);
      for (int i : at) {
        said.segment<kTerms>(i) += s.says[k];
        for (int j : at) precision.block<kTerms, kTerms>(i, j) += s.information[k];
      }
    }
    impl->common[k].compute(precision);
    impl->map[k] = impl->common[k].solve(said);
  }
}

double StockColours::TwoStocks(const std::vector<bool>& second) const {
  int here = 0, there = 0;
  for (const Scan& s : impl_->scans) ++(second[s.rank] ? there : here);
  if (std::min(here, there) < kLeastScans) return 0;
  double log_odds = 0;
  for (int k = 0; k < kOutputs; ++k) {
    Matrix4d own = Matrix4d::Zero();
    Vector4d said = Vector4d::Zero();
    MatrixXd shared = MatrixXd::Zero(impl_->map[k].size(), kTerms);
    for (const Scan& s : impl_->scans) {
      if (!second[s.rank]) continue;
      own += s.information[k];
      said += s.says[k];
      for (int i : s.at) shared.block<kTerms, kTerms>(i, 0) += s.information[k];
    }
    // The difference of the second stock, what is common integrated out.
    own -= shared.transpose() * impl_->common[k].solve(shared);
    said -= shared.transpose() * impl_->map[k];
    const Vector4d stock = Variances(kStock[k]);
    Matrix4d precision = own;
    precision.diagonal() += stock.cwiseInverse();
    const Eigen::LDLT<Matrix4d> solve(precision);
    log_odds += 0.5 * said.dot(solve.solve(said)) -
                0.5 * (solve.vectorD().array().log().sum() + stock.array().log().sum());
  }
  return kCounts * log_odds;
}

std::optional<StockChange> StockColours::Change(int scans, double least) const {
  std::vector<std::pair<int, double>> odds;  // where, log odds
  for (int at = kLeastScans; at + kLeastScans <= scans; ++at) {
    std::vector<bool> second(static_cast<std::size_t>(scans), false);
    std::fill(second.begin() + at, second.end(), true);
    odds.emplace_back(at, TwoStocks(second));
  }
  if (odds.empty()) return std::nullopt;
  const auto best = std::max_element(odds.begin(), odds.end(),
                                     [](const auto& a, const auto& b) { return a.second < b.second; });
  double all = (1 - kChange) * std::exp(-best->second), near = 0;
  for (const auto& [at, log_odds] : odds) {
    const double weight = kChange / static_cast<double>(odds.size()) * std::exp(log_odds - best->second);
    all += weight;
    if (std::abs(at - best->first) <= kNear) near += weight;
  }
  if (near / all < least) return std::nullopt;
  return StockChange{best->first, near / all};
}

double Belief(double log_odds, double before) {
  return 1 / (1 + std::exp(-log_odds) * (1 - before) / before);
}

}  // namespace samelight::pair
