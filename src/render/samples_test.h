// Invented corrections and colours for the tests and benchmarks of this folder (synthetic truth).
#pragma once

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "color/space.h"
#include "record/correction.h"

namespace samelight::render {

// Equal on every standard library, unlike std::uniform_real_distribution.
class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double Between(double least, double most) { return least + (most - least) * (engine_() / 4294967296.0); }

 private:
  std::mt19937 engine_;
};

// A matrix whose rows sum to 1, off-diagonals within +-`most`.
inline Mat3 RandomMixing(Dice& dice, double most) {
  Mat3 m{};
  for (int i = 0; i < 3; ++i) {
    m[i][i] = 1;
    for (int j = 0; j < 3; ++j)
      if (j != i) {
        m[i][j] = dice.Between(-most, most);
        m[i][i] -= m[i][j];
      }
  }
  return m;
}

// A plausible correction: exposure, white, M1, curves, M2, bumps, offsets within what an editor would use;
// every third has its own follow for skin, every second a touch. Display-referred ones have the inverse of a
// contrasty camera curve.
inline record::Correction RandomCorrection(unsigned seed, bool display_referred) {
  Dice dice(seed * 7919 + (display_referred ? 1 : 0));
  record::Correction c;
  c.unify.display_referred = display_referred;
  if (display_referred) {
    // Knots of the inverse of a camera's S-curve: steep in the highlights, mid-grey a little lower.
    const double contrast = dice.Between(1.2, 1.6);
    for (double in = -3.2; in <= 0.001; in += 0.4) {
      const double u = in + 0.745;
      c.unify.tone_in.push_back(in);
      c.unify.tone_out.push_back(-0.745 + u / contrast + 0.35 * std::exp((in - 0.0) / 0.12));
    }
  }
  c.unify.matrix = RandomMixing(dice, 0.08);
  const Vec3 white{dice.Between(0.85, 1.2), 1, dice.Between(0.85, 1.2)};
  c.unify.matrix = Mul(c.unify.matrix, Diagonal(white));
  c.unify.exposure_log10 = dice.Between(-0.4, 0.4);
  c.look.m1 = RandomMixing(dice, 0.2);
  Dice own(seed + 1000);
  c.look.interimage = RandomMixing(own, 0.15);
  c.look.m2 = RandomMixing(dice, 0.15);
  for (int i = 0; i < 3; ++i) {
    c.look.layer[i] = {dice.Between(1.1, 1.7), dice.Between(-2.6, -1.7), dice.Between(-0.05, 0.0),
                       dice.Between(0.15, 0.4), dice.Between(0.12, 0.3)};
    c.offset_log10[i] = dice.Between(-0.15, 0.15);
  }
  for (record::HueBump& b : c.look.bumps)
    b = {dice.Between(-10, 10), dice.Between(-0.2, 0.2), dice.Between(-4, 4)};
  c.follow = dice.Between(0.6, 1.0);
  c.follow_skin = seed % 3 == 0 ? dice.Between(0.3, 0.9) : c.follow;
  if (seed % 2 == 0)
    c.touch = {dice.Between(-0.5, 0.5), dice.Between(-15, 15),     dice.Between(-4, 4),
               dice.Between(-0.1, 0.1), dice.Between(-0.05, 0.05), dice.Between(-0.05, 0.05),
               dice.Between(-0.2, 0.2), dice.Between(-0.15, 0.15)};
  return c;
}

// Linear BT.2020 inputs, 24000: random colours of the sRGB and of the BT.2020 cube over many stops, skin,
// neutral and dark ramps, highlights to 4 EV above white (scene-referred only).
inline std::vector<Vec3> TestColours(bool display_referred, unsigned seed) {
  Dice dice(seed);
  std::vector<Vec3> out;
  const Mat3 from_srgb = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  const double most = display_referred ? 1 : 16;
  const auto add = [&](Vec3 v, double gain) {
    double top = 0;
    for (double& x : v) top = std::max(top, x *= gain);
    for (double& x : v) x *= std::min(1.0, most / std::max(top, 1e-9));
    out.push_back(v);
  };
  const auto gain = [&] { return std::exp2(display_referred ? dice.Between(-6, 0) : dice.Between(-6, 4)); };
  for (int i = 0; i < 8000; ++i) {
    Vec3 v{};
    for (double& x : v) x = color::Decode(color::Space::kSrgb, dice.Between(0, 1));
    add(Mul(from_srgb, v), i % 2 == 0 ? 1 : gain());
  }
  for (int i = 0; i < 4000; ++i) {
    Vec3 v{};
    for (double& x : v) x = std::pow(dice.Between(0, 1), 2.2);
    add(v, i % 2 == 0 ? 1 : gain());
  }
  // Skin: linear sRGB from dark to light, red over green over blue (ranges: common practice).
  for (int i = 0; i < 4000; ++i) {
    const double r = std::exp2(dice.Between(-4.5, 0.0)), g = r * dice.Between(0.42, 0.78);
    add(Mul(from_srgb, Vec3{r, g, g * dice.Between(0.5, 0.9)}), 1);
  }
  for (int i = 0; i < 4000; ++i) {
    const double y = most * std::pow(i / 4000.0, 4);
    add({y, y, y}, 1);
  }
  for (int i = 0; i < 4000; ++i) {
    Vec3 tint{};
    for (double& x : tint) x = dice.Between(0.5, 1);
    add(tint, 0.02 * i / 4000.0);
  }
  return out;
}

}  // namespace samelight::render
