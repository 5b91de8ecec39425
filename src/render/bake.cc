#include "render/bake.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

namespace samelight::render {
namespace {

constexpr double kSceneMost = 16;  // 4 EV above white

// log2 with the fraction of each octave bent smoothly; the kernels' formula in double.
double BentLog2(double x) {
  int exponent = 0;
  const double m = 2 * std::frexp(x, &exponent) - 1;
  return exponent - 1 + m * (4 - m) / 3;
}

double BentExp2(double u) {
  const double whole = std::floor(u);
  // m (4 - m) / 3 = f
  const double f = u - whole;
  return std::ldexp(1 + (2 - std::sqrt(4 - 3 * f)), static_cast<int>(whole));
}

// A perceptual scale for display-linear values; only its shape matters.
double Perceptual(double linear) { return color::Encode(color::Space::kSrgb, linear); }

struct Channel {
  double most = 1;     // input that maps to 1
  double ease = 1e-3;  // relative to `most`
  look::LayerOf<double> layer{};
  double offset_log10 = 0;
  bool display = false;
};

double Aim(const Channel& c, double x) {
  if (c.display) return Perceptual(x);
  return Perceptual(
      std::pow(10, LayerOut(c.layer, std::log10(look::PositiveExposure(x * c.most)) + c.offset_log10)));
}

void MakeShaper(const Channel& c, int channel, Baked& b) {
  // The curve of the layer makes the rest of the map nearly straight; the share of plain log keeps it
  // invertible where toe and shoulder are flat.
  constexpr double kLogShare = 0.15;
  const double low = BentLog2(c.ease), high = BentLog2(1 + c.ease);
  b.ease[channel] = static_cast<float>(c.ease);
  b.u_low[channel] = static_cast<float>(low);
  b.u_scale[channel] = static_cast<float>(kShaperPieces / (high - low));
  std::array<double, kShaperPieces + 1> y{}, slope{};
  const double aim0 = Aim(c, 0), aim1 = Aim(c, 1), span = std::max(1e-6, aim1 - aim0);
  for (int i = 0; i <= kShaperPieces; ++i) {
    const double part = static_cast<double>(i) / kShaperPieces;
    const double x = std::max(0.0, BentExp2(low + part * (high - low)) - c.ease);
    y[i] = (b.nodes - 1) * ((1 - kLogShare) * (Aim(c, x) - aim0) / span + kLogShare * part);
  }
  y[0] = 0;
  y[kShaperPieces] = b.nodes - 1;
  // Monotone slopes by the harmonic mean (Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300).
  for (int i = 1; i < kShaperPieces; ++i) {
    const double l = y[i] - y[i - 1], r = y[i + 1] - y[i];
    slope[i] = l > 0 && r > 0 ? 2 * l * r / (l + r) : 0;
  }
  slope[0] = std::max(0.0, std::min(1.5 * (y[1] - y[0]) - 0.5 * slope[1], 3 * (y[1] - y[0])));
  const double last = y[kShaperPieces] - y[kShaperPieces - 1];
  slope[kShaperPieces] = std::max(0.0, std::min(1.5 * last - 0.5 * slope[kShaperPieces - 1], 3 * last));
  auto& s = b.shaper[channel];
  for (int i = 0; i < kShaperPieces; ++i) {
    const double d = y[i + 1] - y[i];
    s[0][i] = static_cast<float>(y[i]);
    s[1][i] = static_cast<float>(slope[i]);
    s[2][i] = static_cast<float>(3 * d - 2 * slope[i] - slope[i + 1]);
    s[3][i] = static_cast<float>(slope[i] + slope[i + 1] - 2 * d);
  }
}

double ShaperAt(const Baked& b, int channel, double x) {
  const double v =
      (BentLog2(std::clamp(x, 0.0, 1.0) + b.ease[channel]) - b.u_low[channel]) * b.u_scale[channel];
  const int i = std::clamp(static_cast<int>(std::floor(v)), 0, kShaperPieces - 1);
  const double f = v - i;
  const auto& s = b.shaper[channel];
  return ((s[3][i] * f + s[2][i]) * f + s[1][i]) * f + s[0][i];
}

// x with ShaperAt(x) = t, by bisection: the shaper is monotone.
double ShaperInverse(const Baked& b, int channel, double t) {
  double low = 0, high = 1;
  for (int i = 0; i < 60; ++i) {
    const double mid = low < b.ease[channel] * 1e-3 ? (low + high) / 2 : std::sqrt(low * high);
    (ShaperAt(b, channel, mid) < t ? low : high) = mid;
  }
  return (low + high) / 2;
}

Vec3 Encoded(color::Space space, const Mat3& space_from_rec2020, const Vec3& display) {
  Vec3 v = Mul(space_from_rec2020, display);
  for (double& c : v) c = color::Encode(space, c);
  return v;
}

}  // namespace

void Baked::SetNodes(int count) {
  nodes = count;
  const std::size_t floats = static_cast<std::size_t>(count) * count * count * 4;
  table.resize(floats + 15);
  const auto address = reinterpret_cast<std::uintptr_t>(table.data());
  lead_ = ((address + 63) / 64 * 64 - address) / sizeof(float);
}

void Bake(const look::Resolved& resolved, color::Space space, int nodes, Baked& baked) {
  baked.SetNodes(nodes);
  Mat3 m1{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) m1[i][j] = resolved.look.m1[i][j];
  // A display-referred source has a tone curve in front of the matrices, and goes into the table as it is; so
  // does a look whose M1 cannot be inverted.
  const bool whole = resolved.display_referred || std::abs(Determinant(m1)) < 1e-4;
  const Mat3 linear = whole ? kIdentity3 : Mul(m1, resolved.scene_matrix);
  const Mat3 scene_from_x = whole ? kIdentity3 : Inverse(m1);
  std::array<Channel, 3> channels;
  for (int c = 0; c < 3; ++c) {
    Channel& ch = channels[c];
    ch.display = whole;
    ch.layer = resolved.look.layer[c];
    ch.offset_log10 = resolved.offset_log10[c];
    if (whole) {
      ch.most = resolved.display_referred ? 1 : kSceneMost;
      ch.ease = 2e-3;
    } else {
      ch.most = 0;
      for (double v : linear[c]) ch.most += kSceneMost * std::max(0.0, v);
      ch.most = std::max(ch.most, 1e-6);
      // Where the toe has become flat.
      const double dark =
          (ch.layer.floor - 2 * ch.layer.toe - look::kLogMidGrey) / ch.layer.gamma + look::kLogMidGrey;
      ch.ease = std::clamp(std::pow(10, dark - ch.offset_log10) / ch.most, 1e-7, 1e-2);
    }
    for (int k = 0; k < 3; ++k) baked.matrix[c][k] = static_cast<float>(linear[c][k] / ch.most);
    MakeShaper(ch, c, baked);
  }
  std::array<std::vector<double>, 3> node;
  for (int c = 0; c < 3; ++c) {
    node[c].resize(nodes);
    for (int i = 0; i < nodes; ++i) node[c][i] = channels[c].most * ShaperInverse(baked, c, i);
  }
  const Mat3 out = color::RgbFromRgb(space, color::Space::kRec2020);
  float* entry = baked.entries();
  for (int r = 0; r < nodes; ++r)
    for (int g = 0; g < nodes; ++g)
      for (int b = 0; b < nodes; ++b, entry += 4) {
        const Vec3 x{node[0][r], node[1][g], node[2][b]};
        const Vec3 y =
            whole ? look::Evaluate(resolved, x) : look::EvaluateUnified(resolved, Mul(scene_from_x, x));
        const Vec3 v = Encoded(space, out, y);
        for (int c = 0; c < 3; ++c) entry[c] = static_cast<float>(v[c]);
        entry[3] = 0;
      }
}

Vec3 Exact(const look::Resolved& resolved, color::Space space, const Vec3& rec2020_linear) {
  Vec3 v = Encoded(space, color::RgbFromRgb(space, color::Space::kRec2020),
                   look::Evaluate(resolved, rec2020_linear));
  for (double& c : v) c = std::clamp(c, 0.0, 1.0);
  return v;
}

}  // namespace samelight::render
