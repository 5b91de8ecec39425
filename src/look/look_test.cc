// Properties of the look. No outside tables exist for it; its equations are checked against finite
// differences and against what a film response must be: monotone, neutral where its parameters are neutral,
// finite everywhere.
#include <ceres/jet.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "color/difference.h"
#include "color/lab.h"
#include "look/evaluate.h"
#include "look/model.h"
#include "look/ramps.h"
#include "look/tone.h"

namespace samelight::look {
namespace {

// Invented looks within the ranges of the fit.
record::Correction RandomCorrection(std::mt19937& random) {
  std::uniform_real_distribution<double> u(-1, 1);
  record::Correction c;
  const auto matrix = [&](double size) {
    Mat3 m;
    for (int i = 0; i < 3; ++i) {
      double sum = 0;
      for (int j = 0; j < 3; ++j)
        if (j != i) sum += m[i][j] = size * u(random);
      m[i][i] = 1 - sum;
    }
    return m;
  };
  c.look.m1 = matrix(0.12);
  c.look.interimage = matrix(0.15);
  c.look.m2 = matrix(0.08);
  for (auto& l : c.look.layer)
    l = {1.4 + 0.3 * u(random), -2.1 + 0.4 * u(random), 0.03 * u(random), 0.35 + 0.15 * u(random),
         0.22 + 0.1 * u(random)};
  for (auto& b : c.look.bumps) b = {6 * u(random), 0.12 * u(random), 2 * u(random)};
  for (double& o : c.offset_log10) o = 0.2 * u(random);
  return c;
}

TEST(Look, FiniteForEveryInput) {
  std::mt19937 random(1);
  const double inf = std::numeric_limits<double>::infinity(), nan = std::nan("");
  for (int i = 0; i < 20; ++i) {
    const Resolved r = Resolve(RandomCorrection(random));
    for (double a : {nan, inf, -inf, -1.0, 0.0, 1e-9, 1.0, 1e6})
      for (double b : {nan, -3.0, 0.0, 0.5, inf})
        for (double v : Evaluate(r, {a, b, 0.2})) EXPECT_TRUE(std::isfinite(v)) << a << " " << b;
  }
}

TEST(Look, NeutralRenderingKeepsNeutrals) {
  record::Correction c;
  c.look = NeutralLook();
  const Resolved r = Resolve(c);
  for (double x = 1e-4; x < 8; x *= 1.3) {
    const Vec3 y = Evaluate(r, {x, x, x});
    EXPECT_NEAR(y[0], y[1], 2e-4 * y[1] + 1e-7);
    EXPECT_NEAR(y[2], y[1], 2e-4 * y[1] + 1e-7);
  }
}

// No look of this distribution, once its ramps are seen to, falls by a step of an 8-bit file on a grey ramp.
TEST(Look, GreyRampsRiseForEveryLook) {
  std::mt19937 random(2);
  for (int i = 0; i < 200; ++i) {
    record::Correction c = RandomCorrection(random);
    c.look = WithRisingRamps(c.look, c.offset_log10);
    const Resolved r = Resolve(c);
    double before = -1;  // the brightest so far
    for (double x = 1e-4; x < 16; x *= 1.02) {
      Vec3 y = Evaluate(r, {x, x, x});
      for (double& v : y) v = std::clamp(v, 0.0, 1.0);  // as the encoder clips
      const double linear = color::LuminanceRec2020(y);
      const double step =  // IEC 61966-2-1
          255 * (linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055);
      EXPECT_GT(step, before - 1) << "look " << i << " at " << x;
      before = std::max(before, step);
    }
  }
}

// White that a camera JPEG has clipped has no colour left; gains that are right for its greys must not give
// it one. Greys below keep them, and a person's own warmth counts everywhere.
TEST(Look, ClippedWhiteOfACameraJpegTakesNoCast) {
  std::mt19937 random(5);
  const auto lab = [](const record::Correction& c, double v) {
    const Vec3 y = Evaluate(Resolve(c), {v, v, v});
    return color::LabFromXyz(Mul(color::XyzFromRgb(color::Space::kRec2020), y),
                             color::XyzFromXy(color::kD65));
  };
  for (int i = 0; i < 20; ++i) {
    record::Correction plain = RandomCorrection(random);
    plain.unify.display_referred = true;
    plain.unify.tone_in = {-3, -2, -1, -0.3, 0};
    plain.unify.tone_out = {-3.2, -2.1, -1, -0.1, 0.7};
    record::Correction gains = plain;
    gains.unify.matrix = Diagonal({std::pow(10, 0.06), 1, std::pow(10, -0.06)});
    const Vec3 with = lab(gains, 1), without = lab(plain, 1);
    EXPECT_NEAR(with[1], without[1], 0.3);
    EXPECT_NEAR(with[2], without[2], 0.3);
    const Vec3 grey = lab(gains, 0.18), plain_grey = lab(plain, 0.18);
    EXPECT_GT(std::hypot(grey[1] - plain_grey[1], grey[2] - plain_grey[2]), 3);
    double last = -1;
    for (int k = 0; k <= 400; ++k) {  // the way there is even
      const Vec3 y = Evaluate(Resolve(gains), {k / 400.0, k / 400.0, k / 400.0});
      EXPECT_GE(color::LuminanceRec2020(y), last - 1e-4);
      last = color::LuminanceRec2020(y);
    }
    record::Correction warm = gains;
    warm.touch.warmth_mired = 30;
    EXPECT_GE(lab(warm, 1)[2], with[2] - 0.05);
  }
}

TEST(Look, NoStepAlongAHueSweep) {
  std::mt19937 random(3);
  for (int i = 0; i < 20; ++i) {
    const Resolved r = Resolve(RandomCorrection(random));
    Vec3 before{};
    for (int d = 0; d <= 3600; ++d) {
      const double h = d * 0.1 * 0.017453292519943295;
      const Vec3 y = Evaluate(
          r, {0.2 + 0.1 * std::cos(h), 0.2 + 0.1 * std::cos(h - 2.0944), 0.2 + 0.1 * std::cos(h + 2.0944)});
      if (d > 0)
        for (int c = 0; c < 3; ++c) EXPECT_LT(std::abs(y[c] - before[c]), 0.004);
      before = y;
    }
  }
}

TEST(Look, DerivativesEqualFiniteDifferences) {
  using Dual = ceres::Jet<double, 6>;
  std::mt19937 random(4);
  std::uniform_real_distribution<double> u(0.01, 0.9);
  for (int i = 0; i < 200; ++i) {
    const record::Correction c = RandomCorrection(random);
    const LookOf<double> p = Parameters(c.look);
    const double x[3] = {u(random), u(random), u(random)};
    LookOf<Dual> pd;
    for (int a = 0; a < 3; ++a) {
      for (int b = 0; b < 3; ++b) {
        pd.m1[a][b] = Dual(p.m1[a][b]);
        pd.interimage[a][b] = Dual(p.interimage[a][b]);
        pd.m2[a][b] = Dual(p.m2[a][b]);
      }
      const LayerOf<double>& l = p.layer[a];
      pd.layer[a] = {Dual(l.gamma), Dual(l.floor), Dual(l.ceiling), Dual(l.toe), Dual(l.shoulder)};
    }
    for (int k = 0; k < record::kHueBumps; ++k)
      pd.bump[k] = {Dual(p.bump[k].hue_deg), Dual(p.bump[k].chroma), Dual(p.bump[k].lightness)};
    Dual in[3], offset[3], out[3];
    for (int k = 0; k < 3; ++k) {
      in[k] = Dual(x[k], k);
      offset[k] = Dual(c.offset_log10[k], 3 + k);
    }
    FilmFromScene(pd, offset, Dual(1.0), in, out);
    for (int k = 0; k < 6; ++k) {
      const double step = 1e-6;
      double high[3], low[3];
      for (int sign : {1, -1}) {
        double xs[3] = {x[0], x[1], x[2]};
        double os[3] = {c.offset_log10[0], c.offset_log10[1], c.offset_log10[2]};
        (k < 3 ? xs[k] : os[k - 3]) += sign * step;
        FilmFromScene(p, os, 1.0, xs, sign > 0 ? high : low);
      }
      for (int channel = 0; channel < 3; ++channel) {
        const double numeric = (high[channel] - low[channel]) / (2 * step);
        EXPECT_NEAR(out[channel].v[k], numeric, 1e-3 * (1 + std::abs(numeric)));
      }
    }
  }
}

TEST(Look, FollowZeroIsTheNeutralRenderingOfTheSameLevel) {
  std::mt19937 random(5);
  record::Correction c = RandomCorrection(random);
  c.offset_log10 = {0.1, 0.1, 0.1};
  c.follow = c.follow_skin = 0;
  record::Correction plain;
  plain.look = NeutralLook();
  plain.offset_log10 = c.offset_log10;
  const Vec3 x{0.3, 0.2, 0.1}, a = Evaluate(Resolve(c), x), b = Evaluate(Resolve(plain), x);
  for (int k = 0; k < 3; ++k) EXPECT_NEAR(a[k], b[k], 1e-12);
}

TEST(Look, SkinShareMovesSkinMoreThanFoliage) {
  std::mt19937 random(6);
  record::Correction c = RandomCorrection(random), half = c;
  half.follow_skin = 0.4;
  const Resolved full = Resolve(c), less = Resolve(half);
  const auto distance = [&](const Vec3& x) {
    const Vec3 a = Evaluate(full, x), b = Evaluate(less, x);
    return std::hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]) / (a[0] + a[1] + a[2]);
  };
  EXPECT_GT(distance({0.30, 0.21, 0.15}), 3 * distance({0.06, 0.12, 0.03}));
}

TEST(Look, TouchMovesInTheDirectionOfItsName) {
  record::Correction c;
  c.look = NeutralLook();
  const Vec3 grey{0.18, 0.18, 0.18}, before = Evaluate(Resolve(c), grey);
  c.touch.warmth_mired = 20;
  const Vec3 warm = Evaluate(Resolve(c), grey);
  EXPECT_GT(warm[0] / warm[2], before[0] / before[2]);
  c.touch = {};
  c.touch.exposure_ev = 1;
  EXPECT_GT(Evaluate(Resolve(c), grey)[1], before[1]);
  c.touch = {};
  c.touch.black_density = 0.3;
  EXPECT_LT(Evaluate(Resolve(c), {1e-3, 1e-3, 1e-3})[1],
            Evaluate(Resolve(record::Correction{}), {1e-3, 1e-3, 1e-3})[1] + 1);
  c.touch = {};
  c.touch.chroma = -1;
  const Vec3 none = Evaluate(Resolve(c), {0.4, 0.2, 0.1});
  EXPECT_NEAR(none[0], none[2], 0.02 * none[1]);
}

TEST(ToneCurve, MonotoneThroughItsKnots) {
  const ToneCurve curve({-3, -2, -1, -0.5, 0}, {-2.5, -2.4, -1.0, -0.9, 0.4});
  EXPECT_DOUBLE_EQ(curve(-1), -1.0);
  double before = -10;
  for (double x = -4; x < 1; x += 0.001) {
    EXPECT_GE(curve(x), before);
    before = curve(x);
  }
}

// A region at its own share looks as it would if the whole followed so far; the rest stays (synthetic truth).
TEST(Follow, FoliageAndSkyAtTheirOwnShare) {
  record::Correction c;
  c.look = NeutralLook();
  c.look.m2 = {{{1.10, -0.06, -0.04}, {-0.03, 1.08, -0.05}, {-0.02, -0.08, 1.10}}};
  for (int i = 0; i < 3; ++i) c.look.layer[i].gamma = 1.1 + 0.06 * i;
  c.look.bumps[3] = {8, -0.3, -2};
  c.look.bumps[4] = {-6, -0.2, 3};
  c.offset_log10 = {0.05, 0, -0.05};
  const Vec3 leaf{0.075, 0.11, 0.045}, sky{0.35, 0.45, 0.62}, skin{0.30, 0.22, 0.16}, grey{0.18, 0.18, 0.18};
  const auto lab = [](const record::Correction& of, const Vec3& scene) {
    return color::LabFromRec2020(Evaluate(Resolve(of), scene));
  };
  for (const double share : {0.0, 0.3, 0.7}) {
    record::Correction whole = c, foliage = c, heaven = c;
    whole.follow = whole.follow_skin = share;
    foliage.follow_foliage = share;
    heaven.follow_sky = share;
    EXPECT_LT(color::Ciede2000(lab(foliage, leaf), lab(whole, leaf)), 0.7) << share;
    EXPECT_LT(color::Ciede2000(lab(heaven, sky), lab(whole, sky)), 0.7) << share;
    if (share < 0.5)
      EXPECT_GT(color::Ciede2000(lab(c, leaf), lab(whole, leaf)), 1.5) << "there is something to follow";
    for (const Vec3& other : {skin, grey}) {
      EXPECT_LT(color::Ciede2000(lab(foliage, other), lab(c, other)), 0.5);
      EXPECT_LT(color::Ciede2000(lab(heaven, other), lab(c, other)), 0.5);
    }
  }
  record::Correction with = c;
  with.follow_foliage = c.follow;
  EXPECT_EQ(Evaluate(Resolve(with), leaf), Evaluate(Resolve(c), leaf));
}

}  // namespace
}  // namespace samelight::look
