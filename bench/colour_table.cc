#include "bench/colour_table.h"

#include <algorithm>
#include <cmath>

namespace samelight::bench {
namespace {

constexpr double kMost = 16, kKnee = 0.01;
constexpr int kStride[3] = {ColourTable::kSide * ColourTable::kSide, ColourTable::kSide, 1};

// Index into the 27 neighbours of a step (-1..1) along each axis, and the same as a step in node numbers.
constexpr int Around(int dr, int dg, int db) { return (dr + 1) * 9 + (dg + 1) * 3 + db + 1; }

std::array<int, 27> AroundSteps() {
  std::array<int, 27> steps{};
  for (int r = -1; r <= 1; ++r)
    for (int g = -1; g <= 1; ++g)
      for (int b = -1; b <= 1; ++b) steps[Around(r, g, b)] = r * kStride[0] + g * kStride[1] + b * kStride[2];
  return steps;
}

}  // namespace

ColourTable::Place ColourTable::Find(const float* linear, double gain) {
  Place place{0, {}};
  static const double scale = (kSide - 1) / std::log1p(kMost / kKnee);
  for (int c = 0; c < 3; ++c) {
    const double x = linear[c] * gain;
    const double t = x > 0 ? std::min(std::log1p(x / kKnee) * scale, kSide - 1.0) : 0.0;
    const int i = std::min(static_cast<int>(t), kSide - 2);
    place.node += i * kStride[c];
    place.fraction[c] = static_cast<float>(t - i);
  }
  return place;
}

void ColourTable::Add(const image::RgbF& linear, double gain, const LabF& lab, int step) {
  if (product_.empty()) {
    product_.assign(kNodes, {});
    wanted_.assign(kNodes, {});
  }
  for (std::size_t i = 0; i < linear.pixels(); i += step) {
    const Place p = Find(linear.data().data() + 3 * i, gain);
    const float* want = lab.data().data() + 3 * i;
    double w[8];
    int node[8];
    for (int k = 0; k < 8; ++k) {
      w[k] = 1;
      node[k] = p.node;
      for (int c = 0; c < 3; ++c) {
        const bool up = k >> c & 1;
        w[k] *= up ? p.fraction[c] : 1 - p.fraction[c];
        if (up) node[k] += kStride[c];
      }
    }
    for (int k = 0; k < 8; ++k) {
      if (w[k] == 0) continue;
      for (int c = 0; c < 3; ++c) wanted_[node[k]][c] += w[k] * want[c];
      for (int m = 0; m < 8; ++m)
        product_[node[k]][Around((m & 1) - (k & 1), (m >> 1 & 1) - (k >> 1 & 1),
                                 (m >> 2 & 1) - (k >> 2 & 1))] += w[k] * w[m];
    }
  }
}

void ColourTable::Fit(double smooth) {
  const std::array<int, 27> steps = AroundSteps();
  for (int n = 0; n < kNodes; ++n)
    for (int c = 0; c < 3; ++c) {
      const int at = n / kStride[c] % kSide;
      for (int d : {-1, 1}) {
        if (at + d < 0 || at + d >= kSide) continue;
        product_[n][Around(0, 0, 0)] += smooth;
        product_[n][Around(c == 0 ? d : 0, c == 1 ? d : 0, c == 2 ? d : 0)] -= smooth;
      }
    }
  if (value_.empty()) value_.assign(kNodes, {50, 0, 0});
  using Column = std::vector<double>;
  const auto times = [&](const Column& x, Column& y) {
    for (int n = 0; n < kNodes; ++n) {
      double sum = 0;
      for (int k = 0; k < 27; ++k)
        if (product_[n][k] != 0) sum += product_[n][k] * x[n + steps[k]];
      y[n] = sum;
    }
  };
  for (int c = 0; c < 3; ++c) {
    Column x(kNodes), r(kNodes), z(kNodes), p(kNodes), ap(kNodes);
    for (int n = 0; n < kNodes; ++n) x[n] = value_[n][c];
    times(x, ap);
    double rz = 0, scale = 0;
    const auto eased = [&](int n) { return r[n] / product_[n][Around(0, 0, 0)]; };
    for (int n = 0; n < kNodes; ++n) {
      r[n] = wanted_[n][c] - ap[n];
      p[n] = z[n] = eased(n);
      rz += r[n] * z[n];
      scale += wanted_[n][c] * wanted_[n][c] / product_[n][Around(0, 0, 0)];
    }
    for (int i = 0; i < 2000 && rz > 1e-12 * scale; ++i) {
      times(p, ap);
      double pap = 0;
      for (int n = 0; n < kNodes; ++n) pap += p[n] * ap[n];
      if (!(pap > 0)) break;
      const double step = rz / pap, before = rz;
      rz = 0;
      for (int n = 0; n < kNodes; ++n) {
        x[n] += step * p[n];
        r[n] -= step * ap[n];
        z[n] = eased(n);
        rz += r[n] * z[n];
      }
      for (int n = 0; n < kNodes; ++n) p[n] = z[n] + rz / before * p[n];
    }
    for (int n = 0; n < kNodes; ++n) value_[n][c] = static_cast<float>(x[n]);
  }
  product_.clear();
  wanted_.clear();
}

Vec3 ColourTable::operator()(const float* linear, double gain) const {
  const Place p = Find(linear, gain);
  Vec3 out{};
  for (int k = 0; k < 8; ++k) {
    double w = 1;
    int node = p.node;
    for (int c = 0; c < 3; ++c) {
      const bool up = k >> c & 1;
      w *= up ? p.fraction[c] : 1 - p.fraction[c];
      if (up) node += kStride[c];
    }
    for (int c = 0; c < 3; ++c) out[c] += w * value_[node][c];
  }
  return out;
}

LabF ColourTable::Apply(const image::RgbF& linear, double gain) const {
  LabF out(linear.width(), linear.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const Vec3 lab = (*this)(linear.data().data() + 3 * i, gain);
    for (int c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(lab[c]);
  }
  return out;
}

}  // namespace samelight::bench
