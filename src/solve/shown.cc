#include "solve/shown.h"

#include <Eigen/Dense>
#include <cmath>

#include "color/difference.h"
#include "color/temperature.h"
#include "look/evaluate.h"
#include "solve/film_fit.h"

namespace samelight::solve {
namespace {

struct White {
  double warmth_mired = 0, green_magenta = 0;
};

// The colour that a grey takes from the offsets, against D65.
White WhiteOf(const Vec3& offset_log10) {
  const double mean = (offset_log10[0] + offset_log10[1] + offset_log10[2]) / 3;
  Vec3 rgb;
  for (int c = 0; c < 3; ++c) rgb[c] = std::pow(10.0, offset_log10[c] - mean);
  const color::CctDuv grey =
      color::CctDuvFromXy(color::XyFromXyz(Mul(color::XyzFromRgb(color::Space::kRec2020), rgb)));
  const color::CctDuv white = color::CctDuvFromXy(color::kD65);
  return {color::MiredFromKelvin(grey.cct_k) - color::MiredFromKelvin(white.cct_k),
          1000 * (grey.duv - white.duv)};
}

}  // namespace

record::Handles ShownHandles(const record::Correction& correction) {
  record::Handles h;
  const Vec3& o = correction.offset_log10;
  h.exposure_ev = ((o[0] + o[1] + o[2]) / 3 + correction.unify.exposure_log10) / look::kLog10Of2;
  const White white = WhiteOf(Mul(correction.look.interimage, o));
  h.warmth_mired = white.warmth_mired;
  h.green_magenta = white.green_magenta;
  const record::Look neutral = look::NeutralLook();
  for (int c = 0; c < 3; ++c) {
    const record::LayerCurve &l = correction.look.layer[c], &n = neutral.layer[c];
    h.gamma += (l.gamma - n.gamma) / 3;
    h.toe += (l.toe - n.toe) / 3;
    h.shoulder += (l.shoulder - n.shoulder) / 3;
    h.black_density -= (l.floor - n.floor) / 3;
  }
  // Overall chroma of the look: how much the matrices stretch colours away from grey, and the bumps' mean.
  double stretch = 0;
  for (const Mat3* m : {&correction.look.m1, &correction.look.interimage, &correction.look.m2})
    stretch += ((*m)[0][0] + (*m)[1][1] + (*m)[2][2]) / 3 - 1;
  for (const record::HueBump& b : correction.look.bumps) stretch += b.chroma / record::kHueBumps;
  h.chroma = stretch;
  h.hues = correction.look.bumps;
  return h;
}

record::Uncertainty UncertaintyOf(const LookVector& look, const Vec3& offset_log10, const Mat3& covariance) {
  Eigen::Matrix3d c;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) c(i, j) = covariance[i][j];
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(c);
  record::Uncertainty u;
  double exposure = 0, warmth = 0, green = 0;
  Vec3 colour{0, 0, 0};
  const Mat3 interimage = RecordFrom(look).interimage;
  const White white = WhiteOf(Mul(interimage, offset_log10));
  for (int k = 0; k < 3; ++k) {
    const double s = std::sqrt(std::max(0.0, eigen.eigenvalues()[k]));
    Vec3 moved = offset_log10;
    double level = 0;
    for (int i = 0; i < 3; ++i) {
      const double d = s * eigen.eigenvectors()(i, k);
      moved[i] += d;
      level += d / 3;
    }
    exposure += level * level;
    const White w = WhiteOf(Mul(interimage, moved));
    warmth += std::pow(w.warmth_mired - white.warmth_mired, 2);
    green += std::pow(w.green_magenta - white.green_magenta, 2);
    for (int i = 0; i < 3; ++i)
      colour[i] += std::pow(color::Ciede2000(PredictLab(look, moved, kUsualColours[i]),
                                             PredictLab(look, offset_log10, kUsualColours[i])),
                            2);
  }
  u.exposure_ev = std::sqrt(exposure) / look::kLog10Of2;
  u.warmth_mired = std::sqrt(warmth);
  u.green_magenta = std::sqrt(green);
  u.skin = std::sqrt(colour[0]);
  u.foliage = std::sqrt(colour[1]);
  u.neutral = std::sqrt(colour[2]);
  return u;
}

}  // namespace samelight::solve
