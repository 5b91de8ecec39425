// The look's equations, written once for double and for automatic derivatives (T is double or a dual number).
//
// Order (design: "The look"): log exposure after m1 plus offsets -> per-layer toe-gamma-shoulder curve
// -> interimage effect -> m2 -> hue bumps -> smooth gamut compression. All picture values are linear BT.2020,
// D65.
#pragma once

#include <array>
#include <cmath>
#include <type_traits>

#include "color/hcl.h"
#include "color/space.h"
#include "record/correction.h"

namespace samelight::look {

inline constexpr double kMidGrey = 0.18;                  // scene-linear, common practice
inline constexpr double kLog10Of2 = 0.30102999566398120;  // one stop on a log10 axis
inline constexpr double kLogMidGrey = -0.74472749489;     // log10 of it

// Smallest scene-linear exposure that the curves see, about -12 EV below mid-grey; below it the response is
// flat.
inline constexpr double kLeastExposure = 5e-5;

// Oklab hue of each bump's centre, degrees: reds, skin, yellow, foliage, sky, violet. Chosen from the hues of
// the measured skin, leaf and sky spectra under D65; the widths make neighbours overlap so that a sweep of
// hues stays smooth.
inline constexpr std::array<double, record::kHueBumps> kBumpHueDeg = {20, 55, 100, 138, 240, 315};
inline constexpr std::array<double, record::kHueBumps> kBumpSharpness = {6, 6, 6,
                                                                         5, 3, 3};  // von Mises kappa
inline constexpr double kBumpChroma = 0.03;  // Oklab chroma at which bumps reach half strength

// Of constants beside a T: beside floats doubles would make everything double.
template <class T>
using NumberFor = std::conditional_t<std::is_same_v<T, float>, float, double>;

template <class T>
struct LayerOf {
  T gamma, floor, ceiling, toe, shoulder;
};
template <class T>
struct BumpOf {
  T hue_deg, chroma, lightness;
};
// record::Look for any scalar.
template <class T>
struct LookOf {
  T m1[3][3];
  T interimage[3][3];
  LayerOf<T> layer[3];
  T m2[3][3];
  BumpOf<T> bump[record::kHueBumps];
};

LookOf<double> Parameters(const record::Look& look);

template <class T>
T Softplus(const T& x) {
  using std::exp;
  using std::log;
  if (x > T(0.0)) return x + log(T(1.0) + exp(-x));
  return log(T(1.0) + exp(x));
}

// max(x, 0) made smooth and positive: about kLeastExposure at 0 and below.
template <class T>
T PositiveExposure(const T& x) {
  using std::sqrt;
  const T root = sqrt(x * x + T(4 * kLeastExposure * kLeastExposure));
  // The second form avoids cancellation for negative x.
  if (x > T(0.0)) return T(0.5) * (x + root);
  return T(2 * kLeastExposure * kLeastExposure) / (root - x);
}

// log10 display-linear out of log10 scene-linear in; formula at record::LayerCurve.
template <class T>
T LayerOut(const LayerOf<T>& c, const T& log_in) {
  const T u = c.gamma * (log_in - T(kLogMidGrey)) + T(kLogMidGrey);
  const T v = c.floor + c.toe * Softplus<T>((u - c.floor) / c.toe);
  return c.ceiling - c.shoulder * Softplus<T>((c.ceiling - v) / c.shoulder);
}

// Layer `c` after the interimage effect, log10; formula at record::Look.
template <class T>
T Interimage(const T row[3], const T& ceiling, int c, const T layer[3]) {
  using std::exp;
  const T pull =
      row[0] * (layer[0] - layer[c]) + row[1] * (layer[1] - layer[c]) + row[2] * (layer[2] - layer[c]);
  return layer[c] + (T(1.0) - exp((layer[c] - ceiling) * NumberFor<T>(2.302585092994046))) * pull;
}

template <class T, class M>
void MatrixTimes(const M& m, const T in[3], T out[3]) {
  for (int r = 0; r < 3; ++r) out[r] = in[0] * m[r][0] + in[1] * m[r][1] + in[2] * m[r][2];
}

inline constexpr double kRadians = 0.017453292519943295;
// Cosine and sine of each bump's hue.
inline const std::array<std::array<double, 2>, record::kHueBumps>& BumpAxes() {
  static const auto kAxes = [] {
    std::array<std::array<double, 2>, record::kHueBumps> axes{};
    for (std::size_t i = 0; i < axes.size(); ++i)
      axes[i] = {std::cos(kBumpHueDeg[i] * kRadians), std::sin(kBumpHueDeg[i] * kRadians)};
    return axes;
  }();
  return kAxes;
}

// Hue, chroma and lightness bumps plus an overall chroma gain, in Oklab.
template <class T>
void ApplyBumps(const LookOf<T>& look, const T& chroma_gain, T rgb[3]) {
  using std::cos;
  using std::exp;
  using std::pow;
  using std::sin;
  using std::sqrt;
  const Mat3& lms_from_rgb = color::LmsFromRec2020();
  const Mat3& lab_from_root = color::OklabFromRootLms();
  const Mat3& root_from_lab = color::RootLmsFromOklab();
  const Mat3& rgb_from_lms = color::Rec2020FromLms();
  T lms[3], root[3], lab[3];
  MatrixTimes(lms_from_rgb, rgb, lms);
  using Number = NumberFor<T>;
  for (int c = 0; c < 3; ++c) root[c] = pow(lms[c] > T(1e-7) ? lms[c] : T(1e-7), Number(1.0 / 3.0));
  MatrixTimes(lab_from_root, root, lab);
  const T square = lab[1] * lab[1] + lab[2] * lab[2] + T(1e-9);
  const T chroma = sqrt(square);
  const T gate = square / (square + T(kBumpChroma * kBumpChroma));
  T turn(0.0), gain(0.0), lift(0.0);
  for (int i = 0; i < record::kHueBumps; ++i) {
    const Number ca(BumpAxes()[i][0]), sa(BumpAxes()[i][1]);
    const T w = exp(T(kBumpSharpness[i]) * ((lab[1] * ca + lab[2] * sa) / chroma - T(1.0)));
    turn += w * look.bump[i].hue_deg * Number(kRadians);
    gain += w * look.bump[i].chroma;
    lift += w * look.bump[i].lightness;
  }
  turn *= gate;
  const T scale = exp(gain * gate) * chroma_gain;
  const T a = lab[1] * scale, b = lab[2] * scale;
  const T ct = cos(turn), st = sin(turn);
  lab[0] += lift * gate * Number(0.01);
  lab[1] = a * ct - b * st;
  lab[2] = a * st + b * ct;
  MatrixTimes(root_from_lab, lab, root);
  for (int c = 0; c < 3; ++c) lms[c] = root[c] * root[c] * root[c];
  MatrixTimes(rgb_from_lms, lms, rgb);
}

// Smooth compression of the distance from the achromatic axis, measured in linear sRGB as (max - c) / max:
// identity up to kKnee, approaching 1 (the sRGB surface) without reaching it.
template <class T>
void CompressGamut(T rgb[3]) {
  using std::pow;
  constexpr double kKnee = 0.85, kPower = 4.0;
  static const Mat3 kSrgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  static const Mat3 kBack = Inverse(kSrgb);
  T s[3];
  MatrixTimes(kSrgb, rgb, s);
  T most = s[0] > s[1] ? s[0] : s[1];
  if (s[2] > most) most = s[2];
  if (!(most > T(1e-9))) {
    for (int c = 0; c < 3; ++c) rgb[c] = T(0.0);
    return;
  }
  bool changed = false;
  for (int c = 0; c < 3; ++c) {
    const T d = (most - s[c]) / most;
    if (d > T(kKnee)) {
      using Number = NumberFor<T>;
      const T x = (d - T(kKnee)) / Number(1.0 - kKnee);
      const T y = x / pow(T(1.0) + pow(x, Number(kPower)), Number(1.0 / kPower));
      s[c] = most * (T(1.0) - (T(kKnee) + y * Number(1.0 - kKnee)));
      changed = true;
    }
  }
  if (changed) MatrixTimes(kBack, s, rgb);
}

// Log10 exposures of the three layers, offsets included, to display-linear BT.2020.
template <class T>
void FilmFromLayers(const LookOf<T>& look, const T& chroma_gain, const T in[3], T out[3]) {
  using std::exp;
  T layer[3], y[3];
  for (int c = 0; c < 3; ++c) layer[c] = LayerOut<T>(look.layer[c], in[c]);
  for (int c = 0; c < 3; ++c)
    y[c] = exp(Interimage<T>(look.interimage[c], look.layer[c].ceiling, c, layer) *
               NumberFor<T>(2.302585092994046));
  MatrixTimes(look.m2, y, out);
  ApplyBumps<T>(look, chroma_gain, out);
  CompressGamut<T>(out);
}

// Unified scene-linear pixel to display-linear, both BT.2020.
template <class T>
void FilmFromScene(const LookOf<T>& look, const T offset_log10[3], const T& chroma_gain, const T scene[3],
                   T out[3]) {
  using std::log;
  T x[3], in[3];
  MatrixTimes(look.m1, scene, x);
  for (int c = 0; c < 3; ++c)
    in[c] = log(PositiveExposure<T>(x[c])) * NumberFor<T>(0.43429448190325182) + offset_log10[c];
  FilmFromLayers<T>(look, chroma_gain, in, out);
}

}  // namespace samelight::look
