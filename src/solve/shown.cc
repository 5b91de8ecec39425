#include "solve/shown.h"

#include <cmath>

#include "color/temperature.h"
#include "look/evaluate.h"

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

}  // namespace samelight::solve
