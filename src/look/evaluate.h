// The exact evaluation of a correction: the reference for every faster path.
#pragma once

#include "base/matrix.h"
#include "look/model.h"
#include "look/tone.h"
#include "record/correction.h"

namespace samelight::look {

// A rendering without any film: what `follow` 0 gives. Plain curve, no colour changes.
record::Look NeutralLook();

// A correction made ready for evaluation: follow and touch are resolved into one set of parameters. Copyable;
// evaluation is thread safe.
struct Resolved {
  bool display_referred = false;
  ToneCurve tone;                  // display-referred sources only
  Mat3 scene_matrix = kIdentity3;  // unify and touch: all that is linear before m1, exposure included
  Vec3 white{1, 1, 1};             // scene-linear white of the light, as touched
  LookOf<double> look{};
  Vec3 offset_log10{0, 0, 0};
  double chroma_gain = 1;
  bool skin_differs = false;  // skin hues follow at another share
  LookOf<double> skin_look{};
  Vec3 skin_offset_log10{0, 0, 0};
};
Resolved Resolve(const record::Correction& correction);

// The part before the look: pixel as codec::ReadPicture gives it to unified scene-linear BT.2020.
Vec3 Unified(const Resolved& resolved, const Vec3& rec2020_linear);

// What a display-referred picture has clipped to white has no colour any more: gains that are right for its
// greys would give it a cast. Draws a scene-linear pixel toward the white of the light, at its own luminance,
// smoothly as all channels of what it was, display-linear, go from 0.7 to 1.
Vec3 WithoutCastOfClipped(const Resolved& resolved, const Vec3& display_linear, const Vec3& scene_linear);

// Pixel as codec::ReadPicture gives it (linear BT.2020, D65, scene- or display-referred) to display-linear
// BT.2020, D65, gamut-compressed smoothly toward sRGB; values may pass 1 slightly and are clipped by the
// encoder. NaN counts as 0, infinity as 1e4; finite for every input.
Vec3 Evaluate(const Resolved& resolved, const Vec3& rec2020_linear);

// How much a display-linear BT.2020 colour is skin-hued, 0..1: wide around the skin bump, zero at low chroma.
// The share of skin_look in a pixel, judged on what skin_look alone makes of it.
double SkinShare(const Vec3& rgb);

// The same as Evaluate from a unified pixel on.
Vec3 EvaluateUnified(const Resolved& resolved, const Vec3& scene_linear);

}  // namespace samelight::look
