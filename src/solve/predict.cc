#include "solve/predict.h"

#include <ceres/jet.h>

#include <algorithm>
#include <cmath>

#include "color/space.h"

namespace samelight::solve {
namespace {

template <class T>
void LabFromDisplay(const T rgb[3], T lab[3]) {
  using std::cbrt;
  static const Mat3 xyz_from_rgb = color::XyzFromRgb(color::Space::kRec2020);
  static const Vec3 white = color::XyzFromXy(color::kD65);
  T xyz[3], f[3];
  look::MatrixTimes(xyz_from_rgb, rgb, xyz);
  for (int c = 0; c < 3; ++c) {
    const T t = xyz[c] / white[c];
    // ISO/CIE 11664-4: cube root above (6/29)^3, straight below.
    if (t > T(216.0 / 24389.0))
      f[c] = cbrt(t);
    else
      f[c] = t * (24389.0 / 27.0 / 116.0) + 16.0 / 116.0;
  }
  lab[0] = 116.0 * f[1] - 16.0;
  lab[1] = 500.0 * (f[0] - f[1]);
  lab[2] = 200.0 * (f[1] - f[2]);
}

// One layer: seven numbers and the light that reaches it.
enum LayerAt { kIn, kGamma, kFloor, kCeiling, kToe, kShoulder, kContrast, kBlack, kLayerNumbers };
using LayerDual = ceres::Jet<double, kLayerNumbers>;

// Log10 display value of a layer.
LayerDual LayerLog(const double* q, double log_in, double contrast, double black) {
  using ceres::exp;
  const look::LayerOf<LayerDual> layer{LayerDual(q[0], kGamma) * (1.0 + LayerDual(contrast, kContrast)),
                                       LayerDual(q[1], kFloor) + LayerDual(black, kBlack),
                                       LayerDual(q[2], kCeiling), exp(LayerDual(q[3], kToe)),
                                       exp(LayerDual(q[4], kShoulder))};
  return look::LayerOut<LayerDual>(layer, LayerDual(log_in, kIn));
}

// A layer after the interimage effect: by the three layers, the row of the matrix, and its ceiling. The row's
// own layer stands on the diagonal, which pulls nothing.
enum MixAt { kMixLayer = 0, kMixRow = 3, kMixCeiling = 6, kMixNumbers };
using MixedDual = ceres::Jet<double, kMixNumbers>;

MixedDual MixedLog(const double* row, double ceiling, int c, const LayerDual* layer) {
  MixedDual d[3], r[3];
  for (int k = 0; k < 3; ++k) {
    d[k] = MixedDual(layer[k].a, kMixLayer + k);
    r[k] = MixedDual(row[k], kMixRow + k);
  }
  return look::Interimage<MixedDual>(r, MixedDual(ceiling, kMixCeiling), c, d);
}

// After m2: three values and eighteen numbers of the bumps.
inline constexpr int kBumpNumbers = 3 * record::kHueBumps, kTailNumbers = 3 + kBumpNumbers;
using TailDual = ceres::Jet<double, kTailNumbers>;

}  // namespace

Vec3 PredictLab(const PredictVector& p, const Vec3& scene) {
  const look::LookOf<double> look = LookFrom(p.data(), p[kContrastAt], p[kBlackAt]);
  Vec3 out, lab;
  look::FilmFromScene(look, p.data() + kOffsetAt, 1.0, scene.data(), out.data());
  LabFromDisplay<double>(out.data(), lab.data());
  return lab;
}

Vec3 PredictLab(const LookVector& look, const Vec3& offset_log10, const Vec3& scene) {
  PredictVector p{};
  std::copy(look.begin(), look.end(), p.begin());
  for (int c = 0; c < 3; ++c) p[kOffsetAt + c] = offset_log10[c];
  return PredictLab(p, scene);
}

Vec3 PredictLab(const PredictVector& p, const Vec3& scene, PredictJacobian& jacobian) {
  constexpr double kLog10E = 0.43429448190325182;
  // Off-diagonals of a matrix whose rows sum to one: number 2 r + k moves weight from the diagonal to column
  // kOther[r][k].
  constexpr int kOther[3][2] = {{1, 2}, {0, 2}, {0, 1}};
  double m1[3][3], m2[3][3];
  RowsSumToOne(p.data(), m1);
  RowsSumToOne(p.data() + kM2Start, m2);

  double inter[3][3];
  RowsSumToOne(p.data() + kInterimageStart, inter);

  LayerDual layer[3];
  double in_by_x[3];  // derivative of a layer's log10 exposure by its linear exposure
  for (int c = 0; c < 3; ++c) {
    const double x = m1[c][0] * scene[0] + m1[c][1] * scene[1] + m1[c][2] * scene[2];
    using Single = ceres::Jet<double, 1>;
    const Single positive = look::PositiveExposure<Single>(Single(x, 0));
    in_by_x[c] = kLog10E * positive.v[0] / positive.a;
    layer[c] = LayerLog(p.data() + kLayerStart + 5 * c, kLog10E * std::log(positive.a) + p[kOffsetAt + c],
                        p[kContrastAt], p[kBlackAt]);
  }
  MixedDual mixed[3];
  double y[3];
  for (int c = 0; c < 3; ++c) {
    mixed[c] = MixedLog(inter[c], p[kLayerStart + 5 * c + 2], c, layer);
    y[c] = std::exp(mixed[c].a / kLog10E);
  }

  TailDual rgb[3], lab[3];
  for (int r = 0; r < 3; ++r) rgb[r] = TailDual(m2[r][0] * y[0] + m2[r][1] * y[1] + m2[r][2] * y[2], r);
  look::LookOf<TailDual> tail;  // only the bumps are read
  for (int i = 0; i < record::kHueBumps; ++i) {
    const double* q = p.data() + kBumpStart + 3 * i;
    tail.bump[i] = {TailDual(q[0], 3 + 3 * i), TailDual(q[1], 4 + 3 * i), TailDual(q[2], 5 + 3 * i)};
  }
  look::ApplyBumps<TailDual>(tail, TailDual(1.0), rgb);
  look::CompressGamut<TailDual>(rgb);
  LabFromDisplay<TailDual>(rgb, lab);

  for (int k = 0; k < 3; ++k) {
    std::array<double, kPredictSize>& row = jacobian[k];
    const auto& v = lab[k].v;
    for (int r = 0; r < 3; ++r)
      for (int j = 0; j < 2; ++j) row[kM2Start + 2 * r + j] = v[r] * (y[kOther[r][j]] - y[r]);
    for (int i = 0; i < kBumpNumbers; ++i) row[kBumpStart + i] = v[3 + i];
    row[kContrastAt] = row[kBlackAt] = 0;
    double by_mixed[3];  // derivative by the log10 value of a layer after the interimage effect
    for (int c = 0; c < 3; ++c) {
      by_mixed[c] = (v[0] * m2[0][c] + v[1] * m2[1][c] + v[2] * m2[2][c]) * y[c] / kLog10E;
      for (int j = 0; j < 2; ++j)
        row[kInterimageStart + 2 * c + j] = by_mixed[c] * mixed[c].v[kMixRow + kOther[c][j]];
    }
    for (int c = 0; c < 3; ++c) {
      double by_layer = 0;
      for (int m = 0; m < 3; ++m) by_layer += by_mixed[m] * mixed[m].v[c];
      const auto& d = layer[c].v;
      for (int i = 0; i < 5; ++i) row[kLayerStart + 5 * c + i] = by_layer * d[kGamma + i];
      row[kLayerStart + 5 * c + 2] += by_mixed[c] * mixed[c].v[kMixCeiling];
      row[kContrastAt] += by_layer * d[kContrast];
      row[kBlackAt] += by_layer * d[kBlack];
      const double by_in = by_layer * d[kIn];
      row[kOffsetAt + c] = by_in;
      for (int j = 0; j < 2; ++j) row[2 * c + j] = by_in * in_by_x[c] * (scene[kOther[c][j]] - scene[c]);
    }
  }
  return {lab[0].a, lab[1].a, lab[2].a};
}

}  // namespace samelight::solve
