#include "solve/source_relation.h"

#include <ceres/ceres.h>

#include <algorithm>
#include <cmath>

#include "base/task_pool.h"
#include "look/evaluate.h"
#include "base/median.h"

namespace samelight::solve {
namespace {

// Knots of the inverse tone curve, log10 of display-linear.
constexpr std::array<double, 14> kKnots = {-3.4,  -2.9,  -2.5,  -2.15, -1.85, -1.55, -1.28,
                                           -1.02, -0.78, -0.56, -0.38, -0.22, -0.10, -0.02};
constexpr int kKnotCount = static_cast<int>(kKnots.size());
constexpr double kLogScale = 0.43429448190325182;
constexpr int kFewestSamples = 60;

// The typical rendering's curve inverted at one knot by bisection.
double TypicalInverse(double log_out) {
  const auto look = look::Parameters(look::NeutralLook());
  double low = -6, high = 3;
  for (int i = 0; i < 80; ++i) {
    const double mid = 0.5 * (low + high);
    (look::LayerOut(look.layer[0], mid) < log_out ? low : high) = mid;
  }
  // Close to white and black the inverse runs away; a camera's highlights end about one stop above its white.
  return std::clamp(0.5 * (low + high), -3.6, 0.45);
}

// Knot values are first value plus exponentials of steps, so the curve is monotone for any parameters.
template <class T>
T ToneAt(const T* p, int knot) {
  using std::exp;
  T v = p[0];
  for (int k = 1; k <= knot; ++k) v += exp(p[k]);
  return v;
}

struct KnotPlace {
  int index = 0;
  double share = 0;
};
KnotPlace Place(double log_in) {
  const double x = std::clamp(log_in, kKnots.front(), kKnots.back());
  int i = static_cast<int>(std::upper_bound(kKnots.begin(), kKnots.end(), x) - kKnots.begin()) - 1;
  i = std::clamp(i, 0, kKnotCount - 2);
  return {i, (x - kKnots[i]) / (kKnots[i + 1] - kKnots[i])};
}

template <class T>
void ApplyMatrix(const T* m, const T in[3], T out[3]) {
  out[0] = in[0] + m[0] * (in[1] - in[0]) + m[1] * (in[2] - in[0]);
  out[1] = in[1] + m[2] * (in[0] - in[1]) + m[3] * (in[2] - in[1]);
  out[2] = in[2] + m[4] * (in[0] - in[2]) + m[5] * (in[1] - in[2]);
}

struct ToneResidual {
  RelationSample sample;
  KnotPlace place[3];
  explicit ToneResidual(const RelationSample& s) : sample(s) {
    for (int c = 0; c < 3; ++c) place[c] = Place(std::log10(look::PositiveExposure(s.source[c])));
  }
  template <class T>
  bool operator()(const T* tone, const T* matrix, const T* gain, T* residual) const {
    T x[3], y[3];
    for (int c = 0; c < 3; ++c) {
      const T low = ToneAt(tone, place[c].index);
      const T high = low + exp(tone[place[c].index + 1]);
      x[c] = exp((low + place[c].share * (high - low)) * (1 / kLogScale));
    }
    ApplyMatrix(matrix, x, y);
    for (int c = 0; c < 3; ++c)
      residual[c] = log(look::PositiveExposure(y[c])) * kLogScale + gain[c] -
                    std::log10(look::PositiveExposure(sample.reference[c]));
    return true;
  }
};

struct LinearResidual {
  RelationSample sample;
  template <class T>
  bool operator()(const T* matrix, const T* gain, T* residual) const {
    const T x[3] = {T(sample.source[0]), T(sample.source[1]), T(sample.source[2])};
    T y[3];
    ApplyMatrix(matrix, x, y);
    for (int c = 0; c < 3; ++c)
      residual[c] = log(look::PositiveExposure(y[c])) * kLogScale + gain[c] -
                    std::log10(look::PositiveExposure(sample.reference[c]));
    return true;
  }
};

struct GaussianPrior {
  std::vector<double> mean, sigma;
  template <class T>
  bool operator()(T const* const* p, T* residual) const {
    for (std::size_t i = 0; i < mean.size(); ++i) residual[i] = (p[0][i] - mean[i]) / sigma[i];
    return true;
  }
};

void AddPrior(ceres::Problem& problem, double* block, std::vector<double> mean, std::vector<double> sigma,
              double strength) {
  const int n = static_cast<int>(mean.size());
  auto* cost = new ceres::DynamicAutoDiffCostFunction<GaussianPrior>(
      new GaussianPrior{std::move(mean), std::move(sigma)});
  cost->AddParameterBlock(n);
  cost->SetNumResiduals(n);
  problem.AddResidualBlock(cost, new ceres::ScaledLoss(nullptr, strength, ceres::TAKE_OWNERSHIP), block);
}

std::vector<double> TypicalParameters() {
  std::vector<double> p(kKnotCount);
  double last = 0;
  for (int k = 0; k < kKnotCount; ++k) {
    const double v = TypicalInverse(kKnots[k]);
    p[k] = k == 0 ? v : std::log(std::max(v - last, 0.03));
    last = k == 0 ? v : last + std::exp(p[k]);
  }
  return p;
}

void StoreTone(const std::vector<double>& p, SourceRelation& relation) {
  relation.tone_in.assign(kKnots.begin(), kKnots.end());
  relation.tone_out.resize(kKnotCount);
  for (int k = 0; k < kKnotCount; ++k) relation.tone_out[k] = ToneAt(p.data(), k);
}

// A frame's gains stand for its white. Strong colours, which a camera's rendering bends and its gamut cuts,
// must not pull them: what near-greys leave over is taken out again.
class GreyBalance {
 public:
  void Add(const Vec3& reference, const Vec3& residual) {
    const double weight = Greyness(reference);
    const double mean = (residual[0] + residual[1] + residual[2]) / 3;
    for (int c = 0; c < 3; ++c) left_[c].emplace_back(residual[c] - mean, weight);
    total_ += weight;
  }
  Vec3 Off() const {
    constexpr double kEnough = 6;  // samples as good as grey
    Vec3 off;
    for (int c = 0; c < 3; ++c) off[c] = WeightedMedian(left_[c]) * total_ / (total_ + kEnough);
    return off;
  }

 private:
  std::array<std::vector<std::pair<double, double>>, 3> left_;
  double total_ = 0;
};

Mat3 FullMatrix(const double* m) {
  return {{{1 - m[0] - m[1], m[0], m[1]}, {m[2], 1 - m[2] - m[3], m[3]}, {m[4], m[5], 1 - m[4] - m[5]}}};
}

}  // namespace

double Greyness(const Vec3& rgb) {
  constexpr double kApart = 0.3;
  double low = 1e300, high = -1e300;
  for (const double v : rgb) {
    const double x = std::log10(look::PositiveExposure(v));
    low = std::min(low, x);
    high = std::max(high, x);
  }
  const double d = (high - low) / kApart;
  return 1 / ((1 + d * d) * (1 + d * d));
}

SourceRelation PriorRelation(bool display_referred, int groups) {
  SourceRelation relation;
  if (display_referred) StoreTone(TypicalParameters(), relation);
  relation.gain_log10.assign(static_cast<std::size_t>(groups), Vec3{0, 0, 0});
  return relation;
}

SourceRelation FitRelation(bool display_referred, const std::vector<RelationSample>& samples, int groups,
                           double gain_sigma_log10) {
  SourceRelation relation = PriorRelation(display_referred, groups);
  if (static_cast<int>(samples.size()) < kFewestSamples) return relation;
  std::vector<double> tone = TypicalParameters();
  std::array<double, 6> matrix{};
  std::vector<std::array<double, 3>> gain(static_cast<std::size_t>(groups), {0, 0, 0});
  constexpr double kSigma = 0.03;  // log10, a good match
  ceres::Problem problem;
  for (const RelationSample& s : samples) {
    ceres::LossFunction* loss = new ceres::CauchyLoss(2 * kSigma);
    if (display_referred)
      problem.AddResidualBlock(
          new ceres::AutoDiffCostFunction<ToneResidual, 3, kKnotCount, 6, 3>(new ToneResidual(s)), loss,
          tone.data(), matrix.data(), gain[s.group].data());
    else
      problem.AddResidualBlock(
          new ceres::AutoDiffCostFunction<LinearResidual, 3, 6, 3>(new LinearResidual{s}), loss,
          matrix.data(), gain[s.group].data());
  }
  const double unit = kSigma * kSigma;  // priors below are in standard deviations
  if (display_referred) {
    std::vector<double> sigma(kKnotCount, 0.35);
    sigma[0] = 0.8;
    AddPrior(problem, tone.data(), tone, sigma, unit * 4);
  }
  AddPrior(problem, matrix.data(), std::vector<double>(6, 0.0), std::vector<double>(6, 0.15), unit * 4);
  for (auto& g : gain) {
    if (!problem.HasParameterBlock(g.data())) continue;
    AddPrior(problem, g.data(), {0, 0, 0}, std::vector<double>(3, gain_sigma_log10), unit * 4);
  }
  ceres::Solver::Options options;
  options.max_num_iterations = 40;
  options.linear_solver_type = ceres::SPARSE_NORMAL_CHOLESKY;
  options.num_threads = Workers();
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  if (!summary.IsSolutionUsable()) return relation;
  if (display_referred) StoreTone(tone, relation);
  relation.matrix = FullMatrix(matrix.data());
  for (std::size_t g = 0; g < gain.size(); ++g) relation.gain_log10[g] = gain[g];
  std::vector<double> size;
  std::vector<GreyBalance> balance(static_cast<std::size_t>(groups));
  for (const RelationSample& s : samples) {
    double r[3];
    if (display_referred) {
      const ToneResidual residual{s};
      residual(tone.data(), matrix.data(), gain[s.group].data(), r);
    } else {
      const LinearResidual residual{s};
      residual(matrix.data(), gain[s.group].data(), r);
    }
    for (double v : r) size.push_back(std::abs(v));
    balance[s.group].Add(s.reference, {r[0], r[1], r[2]});
  }
  if (display_referred)
    for (std::size_t g = 0; g < gain.size(); ++g) {
      const Vec3 off = balance[g].Off();
      for (int c = 0; c < 3; ++c) relation.gain_log10[g][c] -= off[c];
    }
  relation.residual_log10 = Median(size);
  relation.fitted = true;
  return relation;
}

}  // namespace samelight::solve
