#include "look/ramps.h"

#include <algorithm>
#include <cmath>

#include "look/model.h"

namespace samelight::look {
namespace {

constexpr double kDarkest = 3e-4, kBrightest = 12, kStep = 1.06;  // scene-linear
constexpr int kHues = 12;
constexpr double kSaturations[] = {0.25, 0.6};

// IEC 61966-2-1, 0..255.
double Stored(double linear) {
  const double v = std::clamp(linear, 0.0, 1.0);
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055);
}

double FallOf(const LookOf<double>& look, const Vec3& offset, const Vec3& colour) {
  double most = 0, fall = 0;
  for (double level = kDarkest; level < kBrightest; level *= kStep) {
    const Vec3 scene{level * colour[0], level * colour[1], level * colour[2]};
    Vec3 out;
    FilmFromScene(look, offset.data(), 1.0, scene.data(), out.data());
    for (double& v : out) v = std::clamp(v, 0.0, 1.0);  // as an encoder does
    const double stored = Stored(color::LuminanceRec2020(out));
    fall = std::max(fall, most - stored);
    most = std::max(most, stored);
  }
  return fall;
}

// `share` 1: as it is, 0: without interimage effect and bumps.
record::Look DrawnBack(record::Look look, double share) {
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c)
      look.interimage[r][c] = kIdentity3[r][c] + share * (look.interimage[r][c] - kIdentity3[r][c]);
  for (record::HueBump& bump : look.bumps) {
    bump.hue_deg *= share;
    bump.chroma *= share;
    bump.lightness *= share;
  }
  return look;
}

}  // namespace

double LargestFall(const record::Look& look, const Vec3& offset_log10) {
  const LookOf<double> p = Parameters(look);
  double fall = FallOf(p, offset_log10, {1, 1, 1});
  for (int k = 0; k < kHues; ++k)
    for (const double s : kSaturations) {
      const double hue = 360.0 / kHues * k * kRadians;
      fall = std::max(fall, FallOf(p, offset_log10,
                                   {1 + s * std::cos(hue), 1 + s * std::cos(hue - 120 * kRadians),
                                    1 + s * std::cos(hue + 120 * kRadians)}));
    }
  return fall;
}

record::Look WithRisingRamps(const record::Look& look, const Vec3& offset_log10) {
  if (LargestFall(look, offset_log10) < kMostFall) return look;
  double good = 0, bad = 1;
  for (int i = 0; i < 7; ++i) {
    const double share = 0.5 * (good + bad);
    (LargestFall(DrawnBack(look, share), offset_log10) < kMostFall ? good : bad) = share;
  }
  return DrawnBack(look, good);
}

}  // namespace samelight::look
