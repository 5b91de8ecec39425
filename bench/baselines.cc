#include "bench/baselines.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "bench/shown.h"
#include "color/space.h"

namespace samelight::bench {
namespace {

constexpr double kLeastLms = 1.0 / 255;

template <class F>
image::RgbF Map(const image::RgbF& in, F&& f) {
  image::RgbF out(in.width(), in.height());
  for (std::size_t i = 0; i < in.pixels(); ++i) {
    const float* p = in.data().data() + 3 * i;
    const Vec3 v = f(Vec3{p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(v[c]);
  }
  return out;
}

image::RgbF Clipped(const image::RgbF& in) {
  return Map(in, [](Vec3 v) {
    for (double& x : v) x = std::clamp(x, 0.0, 1.0);
    return v;
  });
}

Vec3 Decoded(Vec3 v) {
  for (double& x : v) x = color::Decode(color::Space::kSrgb, x);
  return v;
}

Vec3 Encoded(Vec3 v) {
  for (double& x : v) x = color::Encode(color::Space::kSrgb, std::clamp(x, 0.0, 1.0));
  return v;
}

Eigen::Matrix3d ToEigen(const Mat3& m) {
  Eigen::Matrix3d e;
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) e(r, c) = m[r][c];
  return e;
}

// Root (power 0.5) or its inverse (-0.5) of a symmetric matrix, eigenvalues below 1e-12 held there.
Eigen::Matrix3d Power(const Eigen::Matrix3d& m, double power) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(m);
  const Eigen::Vector3d values = solver.eigenvalues().cwiseMax(1e-12).array().pow(power);
  return solver.eigenvectors() * values.asDiagonal() * solver.eigenvectors().transpose();
}

}  // namespace

const Mat3 kReinhardLmsFromRgb{
    {{0.3811, 0.5783, 0.0402}, {0.1967, 0.7244, 0.0782}, {0.0241, 0.1288, 0.8444}}};
const Mat3 kReinhardRgbFromLms{
    {{4.4679, -3.5873, 0.1193}, {-1.2186, 2.3809, -0.1624}, {0.0497, -0.2439, 1.2045}}};

Vec3 LAlphaBetaFromRgb(const Vec3& rgb) {
  Vec3 v = Mul(kReinhardLmsFromRgb, rgb);
  for (double& x : v) x = std::log10(std::max(x, kLeastLms));
  return {(v[0] + v[1] + v[2]) / std::sqrt(3.0), (v[0] + v[1] - 2 * v[2]) / std::sqrt(6.0),
          (v[0] - v[1]) / std::sqrt(2.0)};
}

Vec3 RgbFromLAlphaBeta(const Vec3& lab) {
  const double l = lab[0] / std::sqrt(3.0), a = lab[1] / std::sqrt(6.0), b = lab[2] / std::sqrt(2.0);
  const Vec3 lms{std::pow(10.0, l + a + b), std::pow(10.0, l + a - b), std::pow(10.0, l - 2 * a)};
  // The exact inverse, not the rounded one that is printed.
  static const Mat3 back = Inverse(kReinhardLmsFromRgb);
  return Mul(back, lms);
}

Moments MomentsOf(const image::RgbF& picture) {
  Moments m;
  const double n = std::max<std::size_t>(1, picture.pixels());
  for (std::size_t i = 0; i < picture.pixels(); ++i)
    for (int c = 0; c < 3; ++c) m.mean[c] += picture.data()[3 * i + c] / n;
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    Vec3 d;
    for (int c = 0; c < 3; ++c) d[c] = picture.data()[3 * i + c] - m.mean[c];
    for (int r = 0; r < 3; ++r)
      for (int c = 0; c < 3; ++c) m.covariance[r][c] += d[r] * d[c] / n;
  }
  return m;
}

image::RgbF MatchMeanAndDeviation(const image::RgbF& source, const image::RgbF& target, bool linear_light) {
  const auto in = [&](const Vec3& v) { return LAlphaBetaFromRgb(linear_light ? Decoded(v) : v); };
  const image::RgbF from = Map(source, in), to = Map(target, in);
  const Moments a = MomentsOf(from), b = MomentsOf(to);
  Vec3 gain;
  for (int c = 0; c < 3; ++c) gain[c] = std::sqrt(b.covariance[c][c] / std::max(a.covariance[c][c], 1e-12));
  return Clipped(Map(from, [&](Vec3 v) {
    for (int c = 0; c < 3; ++c) v[c] = b.mean[c] + gain[c] * (v[c] - a.mean[c]);
    const Vec3 rgb = RgbFromLAlphaBeta(v);
    return linear_light ? Encoded(rgb) : rgb;
  }));
}

Mat3 MongeKantorovich(const Mat3& covariance_from, const Mat3& covariance_to) {
  const Eigen::Matrix3d a = ToEigen(covariance_from), b = ToEigen(covariance_to);
  const Eigen::Matrix3d root = Power(a, 0.5), back = Power(a, -0.5);
  const Eigen::Matrix3d t = back * Power(root * b * root, 0.5) * back;
  Mat3 out;
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) out[r][c] = t(r, c);
  return out;
}

image::RgbF MatchCovariance(const image::RgbF& source, const image::RgbF& target, MapSpace space) {
  const bool lab = space == MapSpace::kLab;
  const image::RgbF from = lab ? LabOfShown(source) : source, to = lab ? LabOfShown(target) : target;
  const Moments a = MomentsOf(from), b = MomentsOf(to);
  const Mat3 t = MongeKantorovich(a.covariance, b.covariance);
  const image::RgbF moved = Map(from, [&](const Vec3& v) {
    Vec3 d = Mul(t, Vec3{v[0] - a.mean[0], v[1] - a.mean[1], v[2] - a.mean[2]});
    for (int c = 0; c < 3; ++c) d[c] += b.mean[c];
    return d;
  });
  return lab ? ShownOfLab(moved) : Clipped(moved);
}

image::RgbF MatchHistograms(const image::RgbF& source, const image::RgbF& target) {
  image::RgbF out(source.width(), source.height());
  const std::size_t n = source.pixels(), m = target.pixels();
  if (n == 0 || m == 0) return source;
  std::vector<float> from(n), to(m);
  for (int c = 0; c < 3; ++c) {
    for (std::size_t i = 0; i < n; ++i) from[i] = source.data()[3 * i + c];
    for (std::size_t i = 0; i < m; ++i) to[i] = target.data()[3 * i + c];
    std::sort(from.begin(), from.end());
    std::sort(to.begin(), to.end());
    for (std::size_t i = 0; i < n; ++i) {
      // The middle rank of all pixels of this value.
      const auto range = std::equal_range(from.begin(), from.end(), source.data()[3 * i + c]);
      const double rank = 0.5 * ((range.first - from.begin()) + (range.second - from.begin() - 1));
      const double at = n > 1 ? rank / (n - 1) * (m - 1) : 0.5 * (m - 1);
      const std::size_t k = std::min(static_cast<std::size_t>(at), m - 1), next = std::min(k + 1, m - 1);
      const double share = at - k;
      out.data()[3 * i + c] = static_cast<float>(to[k] + share * (to[next] - to[k]));
    }
  }
  return out;
}

}  // namespace samelight::bench
