#include "look/evaluate.h"

#include <algorithm>
#include <cmath>

#include "color/temperature.h"

namespace samelight::look {
namespace {

template <class F>
record::Look Blend(const record::Look& a, const record::Look& b, F mix) {
  record::Look r;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) {
      r.m1[i][j] = mix(a.m1[i][j], b.m1[i][j]);
      r.interimage[i][j] = mix(a.interimage[i][j], b.interimage[i][j]);
      r.m2[i][j] = mix(a.m2[i][j], b.m2[i][j]);
    }
    const record::LayerCurve &ca = a.layer[i], &cb = b.layer[i];
    r.layer[i] = {mix(ca.gamma, cb.gamma), mix(ca.floor, cb.floor), mix(ca.ceiling, cb.ceiling),
                  mix(ca.toe, cb.toe), mix(ca.shoulder, cb.shoulder)};
  }
  for (int i = 0; i < record::kHueBumps; ++i)
    r.bumps[i] = {mix(a.bumps[i].hue_deg, b.bumps[i].hue_deg), mix(a.bumps[i].chroma, b.bumps[i].chroma),
                  mix(a.bumps[i].lightness, b.bumps[i].lightness)};
  return r;
}

// Offsets and look at a share between neutral and film; the touch is added afterwards.
void AtShare(const record::Correction& c, double share, record::Look& look, Vec3& offset) {
  const auto mix = [share](double neutral, double film) { return neutral + share * (film - neutral); };
  look = Blend(NeutralLook(), c.look, mix);
  // Without film the picture keeps the light's brightness but none of its colour.
  const double level = (c.offset_log10[0] + c.offset_log10[1] + c.offset_log10[2]) / 3;
  for (int i = 0; i < 3; ++i) offset[i] = mix(level, c.offset_log10[i]);
}

void AddTouch(const record::Handles& touch, record::Look& look, Vec3& offset) {
  for (int i = 0; i < 3; ++i) {
    record::LayerCurve& l = look.layer[i];
    l.gamma = std::clamp(l.gamma + touch.gamma, 0.2, 4.0);
    l.toe = std::clamp(l.toe + touch.toe, 0.02, 2.0);
    l.shoulder = std::clamp(l.shoulder + touch.shoulder, 0.02, 2.0);
    l.floor = std::clamp(l.floor - touch.black_density, -4.0, l.ceiling - 0.5);
    offset[i] += touch.exposure_ev * kLog10Of2;
  }
  for (int i = 0; i < record::kHueBumps; ++i) {
    look.bumps[i].hue_deg += touch.hues[i].hue_deg;
    look.bumps[i].chroma += touch.hues[i].chroma;
    look.bumps[i].lightness += touch.hues[i].lightness;
  }
}

// Oklab of what a look makes of a scene colour.
Vec3 OklabUnder(const record::Look& look, const Vec3& offset, const Vec3& scene) {
  const LookOf<double> p = Parameters(look);
  Vec3 out;
  FilmFromScene(p, offset.data(), 1.0, scene.data(), out.data());
  return color::OklabFromRec2020(out);
}

// The colours of a region at a share of their own: its bump is set so that a typical colour of it comes out
// in hue, chroma and lightness as it would at that share. Bumps are smooth and fade at low chroma, so that no
// edge shows; the tone of everything else stays with the whole.
void OwnShare(const record::Correction& c, double share, int bump, const Vec3& scene, record::Look& look,
              const Vec3& offset) {
  record::Look own;
  Vec3 own_offset;
  AtShare(c, share, own, own_offset);
  const color::Hcl want = color::HclFromOklab(OklabUnder(own, own_offset, scene));
  record::HueBump& b = look.bumps[bump];
  // The bump's weight at the colour depends on what it moves: a few steps find it.
  for (int round = 0; round < 6; ++round) {
    const color::Hcl now = color::HclFromOklab(OklabUnder(look, offset, scene));
    if (!(now.chroma > 1e-3 && want.chroma > 1e-3)) return;
    const double weight = std::max(
        0.3, std::exp(kBumpSharpness[bump] * (std::cos((now.hue_deg - kBumpHueDeg[bump]) * kRadians) - 1)));
    b.hue_deg += std::remainder(want.hue_deg - now.hue_deg, 360.0) / weight;
    b.chroma += std::log(want.chroma / now.chroma) / weight;
    b.lightness += 100 * (want.lightness - now.lightness) / weight;
    b.hue_deg = std::clamp(b.hue_deg, -60.0, 60.0);
    b.chroma = std::clamp(b.chroma, -1.5, 1.5);
    b.lightness = std::clamp(b.lightness, -30.0, 30.0);
  }
}

double Finite(double v) {
  if (std::isnan(v)) return 0;
  return std::clamp(v, -1e4, 1e4);
}

}  // namespace

LookOf<double> Parameters(const record::Look& look) {
  LookOf<double> p;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) {
      p.m1[i][j] = look.m1[i][j];
      p.interimage[i][j] = look.interimage[i][j];
      p.m2[i][j] = look.m2[i][j];
    }
    const record::LayerCurve& l = look.layer[i];
    p.layer[i] = {l.gamma, l.floor, l.ceiling, l.toe, l.shoulder};
  }
  for (int i = 0; i < record::kHueBumps; ++i)
    p.bump[i] = {look.bumps[i].hue_deg, look.bumps[i].chroma, look.bumps[i].lightness};
  return p;
}

record::Look NeutralLook() {
  record::Look look;
  // Slope a little over 1 at mid-grey for a screen in a dim surround, blacks near the display's own (common
  // practice).
  for (record::LayerCurve& l : look.layer) l = {1.30, -2.6, 0.0, 0.22, 0.16};
  return look;
}

Resolved Resolve(const record::Correction& correction) {
  Resolved r;
  r.display_referred = correction.unify.display_referred;
  if (r.display_referred) r.tone = ToneCurve(correction.unify.tone_in, correction.unify.tone_out);
  const record::Handles& touch = correction.touch;
  const Mat3 shift = color::WhiteShiftRec2020(touch.warmth_mired, touch.green_magenta);
  r.scene_matrix = Mul(shift, correction.unify.matrix);
  r.white = Mul(shift, Vec3{1, 1, 1});
  const double gain = std::pow(10.0, correction.unify.exposure_log10);
  for (auto& row : r.scene_matrix)
    for (double& v : row) v *= gain;
  record::Look look;
  AtShare(correction, correction.follow, look, r.offset_log10);
  // Scene-linear leaf and clear sky at normal exposure (measured spectra under D65, rounded).
  const auto own_share = [&](double share, int bump, const Vec3& scene) {
    if (share >= 0 && share != correction.follow)
      OwnShare(correction, share, bump, scene, look, r.offset_log10);
  };
  own_share(correction.follow_foliage, 3, {0.075, 0.11, 0.045});
  own_share(correction.follow_sky, 4, {0.35, 0.45, 0.62});
  AddTouch(touch, look, r.offset_log10);
  r.look = Parameters(look);
  r.chroma_gain = std::max(0.0, 1 + touch.chroma);
  r.skin_differs = correction.follow_skin != correction.follow;
  if (r.skin_differs) {
    AtShare(correction, correction.follow_skin, look, r.skin_offset_log10);
    AddTouch(touch, look, r.skin_offset_log10);
    r.skin_look = Parameters(look);
  }
  return r;
}

Vec3 WithoutCastOfClipped(const Resolved& resolved, const Vec3& display_linear, const Vec3& scene_linear) {
  constexpr double kFrom = 0.7;
  double share = 1;
  for (const double v : display_linear) {
    const double t = std::clamp((v - kFrom) / (1 - kFrom), 0.0, 1.0);
    share *= t * t * (3 - 2 * t);
  }
  if (share <= 0) return scene_linear;
  const double level = color::LuminanceRec2020(scene_linear) / color::LuminanceRec2020(resolved.white);
  Vec3 out;
  for (int c = 0; c < 3; ++c)
    out[c] = scene_linear[c] + share * (level * resolved.white[c] - scene_linear[c]);
  return out;
}

Vec3 Unified(const Resolved& resolved, const Vec3& rec2020_linear) {
  const Vec3 given{Finite(rec2020_linear[0]), Finite(rec2020_linear[1]), Finite(rec2020_linear[2])};
  if (!resolved.display_referred) return Mul(resolved.scene_matrix, given);
  Vec3 x = given;
  if (!resolved.tone.empty())
    for (double& v : x) v = std::pow(10.0, resolved.tone(std::log10(PositiveExposure(v))));
  return WithoutCastOfClipped(resolved, given, Mul(resolved.scene_matrix, x));
}

double SkinShare(const Vec3& rgb) {
  const color::Hcl hcl = color::HclFromRec2020(rgb);
  const double w = std::exp(4.0 * (std::cos((hcl.hue_deg - kBumpHueDeg[1]) * kRadians) - 1));
  const double c2 = hcl.chroma * hcl.chroma;
  return w * c2 / (c2 + kBumpChroma * kBumpChroma);
}

Vec3 EvaluateUnified(const Resolved& resolved, const Vec3& scene_linear) {
  Vec3 out;
  FilmFromScene(resolved.look, resolved.offset_log10.data(), resolved.chroma_gain, scene_linear.data(),
                out.data());
  if (!resolved.skin_differs) return out;
  Vec3 skin;
  FilmFromScene(resolved.skin_look, resolved.skin_offset_log10.data(), resolved.chroma_gain,
                scene_linear.data(), skin.data());
  const double w = SkinShare(skin);
  for (int i = 0; i < 3; ++i) out[i] += w * (skin[i] - out[i]);
  return out;
}

Vec3 Evaluate(const Resolved& resolved, const Vec3& rec2020_linear) {
  return EvaluateUnified(resolved, Unified(resolved, rec2020_linear));
}

}  // namespace samelight::look
