#include "bench/self_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "bench/baselines.h"
#include "bench/colour_table.h"
#include "bench/score.h"
#include "color/difference.h"

namespace samelight::bench {
namespace {

class Findings {
 public:
  void Near(const std::string& what, double value, double wanted, double tolerance) {
    if (!(std::abs(value - wanted) <= tolerance))
      list.push_back(fmt::format("{}: {} instead of {} (within {})", what, value, wanted, tolerance));
  }
  void True(const std::string& what, bool holds) {
    if (!holds) list.push_back(what + ": does not hold");
  }
  std::vector<std::string> list;
};

// A cloud of colours around `middle`: normal, mixed by a random matrix, narrow enough not to clip.
image::RgbF Cloud(unsigned seed, int width, int height, const Vec3& middle, double size) {
  std::mt19937 dice(seed);
  std::normal_distribution<double> normal;
  Mat3 mix;
  for (auto& row : mix)
    for (double& v : row) v = size * normal(dice);
  image::RgbF out(width, height);
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const Vec3 d = Mul(mix, Vec3{normal(dice), normal(dice), normal(dice)});
    for (int c = 0; c < 3; ++c)
      out.data()[3 * i + c] = static_cast<float>(std::clamp(middle[c] + d[c], 0.02, 0.98));
  }
  return out;
}

double FarthestApart(const Mat3& a, const Mat3& b) {
  double most = 0;
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) most = std::max(most, std::abs(a[r][c] - b[r][c]));
  return most;
}

image::RgbF InLAlphaBeta(const image::RgbF& rgb) {
  image::RgbF out(rgb.width(), rgb.height());
  for (std::size_t i = 0; i < rgb.pixels(); ++i) {
    const float* p = rgb.data().data() + 3 * i;
    const Vec3 v = LAlphaBetaFromRgb({p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(v[c]);
  }
  return out;
}

void CheckDifference(Findings& f) {
  // Sharma, Wu, Dalal 2005, "The CIEDE2000 color-difference formula", Table 1, pairs 1, 13 and 25.
  f.Near("CIEDE2000, pair 1", color::Ciede2000({50, 2.6772, -79.7751}, {50, 0, -82.7485}), 2.0425, 5e-5);
  f.Near("CIEDE2000, pair 13", color::Ciede2000({50, -0.001, 2.49}, {50, 0.0011, -2.49}), 4.7461, 5e-5);
  f.Near("CIEDE2000, pair 25", color::Ciede2000({60.2574, -34.0099, 36.2677}, {60.4626, -34.1751, 39.4387}),
         1.2644, 5e-5);
}

void CheckMeanAndDeviation(Findings& f, const image::RgbF& source, const image::RgbF& target) {
  // The two matrices printed in the paper are inverse to each other, the last row of the second only roughly
  // (0.0497, -0.2439, 1.2045 printed, 0.0585, -0.2611, 1.2057 exact): its product with the blue column is off
  // by 0.007.
  const Mat3 product = Mul(kReinhardRgbFromLms, kReinhardLmsFromRgb);
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c)
      f.Near("l-alpha-beta: printed matrices", product[r][c], r == c ? 1 : 0, r == 2 ? 0.01 : 1e-3);
  const Vec3 colour{0.3, 0.5, 0.7}, back = RgbFromLAlphaBeta(LAlphaBetaFromRgb(colour));
  for (int c = 0; c < 3; ++c) f.Near("l-alpha-beta: there and back", back[c], colour[c], 1e-9);
  const Moments got = MomentsOf(InLAlphaBeta(MatchMeanAndDeviation(source, target, false))),
                want = MomentsOf(InLAlphaBeta(target));
  for (int c = 0; c < 3; ++c) {
    f.Near("mean and deviation: mean", got.mean[c], want.mean[c], 2e-3);
    f.Near("mean and deviation: deviation", std::sqrt(got.covariance[c][c] / want.covariance[c][c]), 1, 0.02);
  }
}

void CheckCovariance(Findings& f, const image::RgbF& source, const image::RgbF& target) {
  const Moments a = MomentsOf(source), b = MomentsOf(target);
  const Mat3 t = MongeKantorovich(a.covariance, b.covariance);
  Mat3 transposed;
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) transposed[r][c] = t[c][r];
  f.Near("Monge-Kantorovich: T A T' = B", FarthestApart(Mul(t, Mul(a.covariance, transposed)), b.covariance),
         0, 1e-9);
  f.Near("Monge-Kantorovich: T is symmetric", FarthestApart(t, transposed), 0, 1e-9);
  f.True("Monge-Kantorovich: T is positive definite",
         t[0][0] > 0 && t[0][0] * t[1][1] - t[0][1] * t[1][0] > 0 && Determinant(t) > 0);
  // Commuting covariances: the ratio of deviations along each axis.
  const Mat3 scaled = MongeKantorovich(Diagonal({4, 1, 0.25}), Diagonal({1, 9, 0.25}));
  f.Near("Monge-Kantorovich: along axes", FarthestApart(scaled, Diagonal({0.5, 3, 1})), 0, 1e-9);
  const Moments got = MomentsOf(MatchCovariance(source, target, MapSpace::kEncodedRgb));
  f.Near("Monge-Kantorovich: covariance of the picture", FarthestApart(got.covariance, b.covariance), 0,
         2e-4);
}

void CheckHistograms(Findings& f, const image::RgbF& source, const image::RgbF& target) {
  const image::RgbF got = MatchHistograms(source, target);
  for (int c = 0; c < 3; ++c) {
    std::vector<float> a, b;
    for (std::size_t i = 0; i < got.pixels(); ++i) a.push_back(got.data()[3 * i + c]);
    for (std::size_t i = 0; i < target.pixels(); ++i) b.push_back(target.data()[3 * i + c]);
    std::sort(a.begin(), a.end());
    std::sort(b.begin(), b.end());
    double most = 0;
    for (int percent = 0; percent <= 100; ++percent)
      most = std::max<double>(
          most, std::abs(a[(a.size() - 1) * percent / 100] - b[(b.size() - 1) * percent / 100]));
    f.Near("histograms: percentiles", most, 0, 5e-3);
  }
}

void CheckTable(Findings& f, const image::RgbF& colours) {
  // Fitted to what another table gives, it gives the same.
  LabF wanted(colours.width(), colours.height());
  ColourTable first;
  for (std::size_t i = 0; i < colours.pixels(); ++i)
    for (int c = 0; c < 3; ++c)
      wanted.data()[3 * i + c] = 100 * std::sqrt(colours.data()[3 * i + c]) - (c > 0 ? 50 : 0);
  first.Add(colours, 1, wanted);
  first.Fit(0.01);
  wanted = first.Apply(colours, 1);
  ColourTable second;
  second.Add(colours, 1, wanted);
  second.Fit(1e-7);
  const FrameScore score = Compare(second.Apply(colours, 1), wanted, {});
  f.Near("table: what another table gives", score.mean, 0, 0.02);
}

void CheckScore(Findings& f, const image::RgbF& picture) {
  const LabF lab = LabOfShown(picture);
  const FrameScore same = Compare(lab, lab, {});
  f.Near("score: a picture against itself", same.mean + same.p95, 0, 0);
  LabF lighter = lab;
  for (std::size_t i = 0; i < lab.pixels(); ++i) lighter.data()[3 * i] += 2;
  f.Near("score: mean lightness error", Compare(lighter, lab, {}).bias[0], 2, 1e-3);
}

}  // namespace

std::vector<std::string> SelfCheck() {
  Findings f;
  const image::RgbF source = Cloud(1, 120, 90, {0.4, 0.5, 0.45}, 0.03),
                    target = Cloud(2, 100, 110, {0.6, 0.45, 0.4}, 0.03);
  CheckDifference(f);
  CheckMeanAndDeviation(f, source, target);
  CheckCovariance(f, source, target);
  CheckHistograms(f, source, target);
  CheckTable(f, source);
  CheckScore(f, source);
  return f.list;
}

std::vector<std::string> CheckRegistration(const Truth& truth, const Pictures& pictures, int most) {
  std::vector<std::string> findings;
  const int count = static_cast<int>(pictures.frames.size()), step = std::max(1, count / std::max(1, most));
  for (int index = 0; index < count; index += step) {
    const FramePicture& frame = pictures.frames[index];
    const LabF shown = LabOfShown(Untouched(frame.linear, frame.scene_referred));
    const int w = shown.width(), h = shown.height();
    double best = -1;
    int best_x = 0, best_y = 0;
    constexpr int kReach = 2;
    for (int dy = -kReach; dy <= kReach; ++dy)
      for (int dx = -kReach; dx <= kReach; ++dx) {
        double ab = 0, aa = 0, bb = 0;
        for (int y = kReach; y < h - kReach - 1; ++y)
          for (int x = kReach; x < w - kReach - 1; ++x)
            for (int axis = 0; axis < 2; ++axis) {
              const int nx = axis == 0, ny = axis == 1;
              const double a = *shown.at(x + nx, y + ny) - *shown.at(x, y);
              const double b = *frame.truth.at(x + dx + nx, y + dy + ny) - *frame.truth.at(x + dx, y + dy);
              ab += a * b;
              aa += a * a;
              bb += b * b;
            }
        const double agreement = ab / std::sqrt(aa * bb + 1e-12);
        if (agreement > best) {
          best = agreement;
          best_x = dx;
          best_y = dy;
        }
      }
    if (best_x != 0 || best_y != 0)
      findings.push_back(
          fmt::format("{} lies {}, {} px beside its truth", truth.frames[index].file, best_x, best_y));
  }
  return findings;
}

}  // namespace samelight::bench
