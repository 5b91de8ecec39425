// Ramps rise: looks as the solve finds them do so by themselves, any other after being drawn back.
#include "look/ramps.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "look/evaluate.h"
#include "look/numbers.h"

namespace samelight::look {
namespace {

struct Drawn {
  record::Look look;
  Vec3 offset;
};

// As 1076 looks that the solve found for simulated sessions lie (means and standard deviations over them;
// numbers of layers: what all three share, and each for itself).
Drawn AsSolved(std::mt19937& random, double wider) {
  std::normal_distribution<double> normal;
  const auto draw = [&](double mean, double sigma) { return mean + wider * sigma * normal(random); };
  std::array<double, kLookSize> p{};
  constexpr double kM1[6][2] = {{0.001, 0.013}, {0.002, 0.004}, {-0.043, 0.024},
                                {0.033, 0.021}, {0.001, 0.007}, {-0.005, 0.020}};
  constexpr double kM2[6][2] = {{0.153, 0.047}, {0.055, 0.018},  {0.018, 0.024},
                                {0.023, 0.018}, {-0.016, 0.028}, {0.038, 0.034}};
  constexpr double kInter[6][2] = {{-0.187, 0.079}, {-0.033, 0.026}, {-0.185, 0.056},
                                   {-0.052, 0.039}, {-0.099, 0.046}, {-0.126, 0.083}};
  for (int i = 0; i < 6; ++i) {
    p[i] = draw(kM1[i][0], kM1[i][1]);
    p[kM2Start + i] = draw(kM2[i][0], kM2[i][1]);
    p[kInterimageStart + i] = draw(kInter[i][0], kInter[i][1]);
  }
  // Slope, floor, ceiling, logarithms of toe and shoulder.
  constexpr double kCommon[5][2] = {
      {1.598, 0.134}, {-2.386, 0.103}, {0.030, 0.010}, {-1.336, 0.097}, {-0.343, 0.112}};
  constexpr double kOwn[3][5][2] = {
      {{-0.018, 0.067}, {-0.082, 0.085}, {-0.012, 0.009}, {-0.130, 0.133}, {-0.047, 0.051}},
      {{0.025, 0.064}, {-0.005, 0.072}, {0.012, 0.009}, {0.013, 0.152}, {0.041, 0.052}},
      {{-0.006, 0.098}, {0.088, 0.078}, {0.001, 0.011}, {0.117, 0.167}, {0.005, 0.070}}};
  for (int k = 0; k < 5; ++k) {
    const double common = draw(kCommon[k][0], kCommon[k][1]);
    for (int c = 0; c < 3; ++c) p[kLayerStart + 5 * c + k] = common + draw(kOwn[c][k][0], kOwn[c][k][1]);
  }
  constexpr double kBumps[6][3][2] = {
      {{1.77, 3.52}, {-0.039, 0.044}, {0.15, 0.43}}, {{-4.29, 2.26}, {-0.049, 0.039}, {0.12, 0.44}},
      {{0.02, 1.74}, {-0.104, 0.048}, {0.51, 0.41}}, {{1.55, 1.37}, {-0.060, 0.059}, {0.86, 0.53}},
      {{2.75, 2.55}, {-0.035, 0.045}, {0.40, 0.69}}, {{-1.17, 1.88}, {-0.070, 0.043}, {0.47, 0.57}}};
  for (int b = 0; b < 6; ++b)
    for (int k = 0; k < 3; ++k) p[kBumpStart + 3 * b + k] = draw(kBumps[b][k][0], kBumps[b][k][1]);
  Drawn d{RecordFrom(p.data()), {}};
  const double level = draw(0.51, 0.13), own[3] = {0.051, 0.027, 0.065};
  for (int c = 0; c < 3; ++c) d.offset[c] = level + draw(0, own[c]);
  return d;
}

// Far beyond what the solve finds: layers that share nothing, strong bumps and a strong interimage effect
// (invented).
Drawn Wild(std::mt19937& random) {
  std::uniform_real_distribution<double> u(-1, 1);
  std::array<double, kLookSize> p{};
  for (int i = 0; i < 6; ++i) {
    p[i] = 0.06 * u(random);
    p[kM2Start + i] = 0.08 * u(random);
    p[kInterimageStart + i] = -0.1 + 0.3 * u(random);
  }
  for (int c = 0; c < 3; ++c) {
    const double layer[5] = {1.5 + 0.4 * u(random), -2.3 + 0.5 * u(random), 0.04 * u(random),
                             -1.3 + 0.5 * u(random), -0.7 + 0.5 * u(random)};
    for (int k = 0; k < 5; ++k) p[kLayerStart + 5 * c + k] = layer[k];
  }
  for (int b = 0; b < 6; ++b) {
    p[kBumpStart + 3 * b] = 12 * u(random);
    p[kBumpStart + 3 * b + 1] = 0.25 * u(random);
    p[kBumpStart + 3 * b + 2] = 5 * u(random);
  }
  Drawn d{RecordFrom(p.data()), {}};
  for (double& o : d.offset) o = 0.3 + 0.1 * u(random);
  return d;
}

// The same measure by itself: finer steps, other hues and saturations.
double FallByItself(const Drawn& d) {
  record::Correction c;
  c.look = d.look;
  c.offset_log10 = d.offset;
  const Resolved r = Resolve(c);
  double worst = 0;
  for (int k = -1; k < 7; ++k) {
    const double s = k < 0 ? 0 : 0.1 + 0.1 * k, hue = 0.37 + 0.9 * k;
    double most = -1;
    for (double x = 2e-4; x < 14; x *= 1.05) {
      Vec3 y = Evaluate(r, {x * (1 + s * std::cos(hue)), x * (1 + s * std::cos(hue - 2.0944)),
                            x * (1 + s * std::cos(hue + 2.0944))});
      for (double& v : y) v = std::min(std::max(v, 0.0), 1.0);
      const double linear = 0.2627 * y[0] + 0.6780 * y[1] + 0.0593 * y[2];  // ITU-R BT.2020
      const double stored =
          255 * (linear <= 0.0031308 ? 12.92 * linear
                                     : 1.055 * std::pow(linear, 1 / 2.4) - 0.055);  // IEC 61966-2-1
      worst = std::max(worst, most - stored);
      most = std::max(most, stored);
    }
  }
  return worst;
}

// The 154 distinct looks among those of the solve that were looked at fall by 0.48 steps at most. Draws know
// nothing of how their numbers go together, so that a few may fall further; these are drawn back like any
// other.
TEST(Ramps, LooksLikeSolvedOnesHardlyEverFall) {
  std::mt19937 random(2);
  constexpr int kLooks = 100;
  int fell = 0;
  for (int i = 0; i < kLooks; ++i) {
    Drawn d = AsSolved(random, 1);
    const double fall = FallByItself(d);
    EXPECT_LT(fall, 2) << "steps of 8 bits, look " << i;
    if (fall < 1) continue;
    ++fell;
    d.look = WithRisingRamps(d.look, d.offset);
    EXPECT_LT(FallByItself(d), 1) << "look " << i;
  }
  EXPECT_LE(fell, kLooks / 50);
}

TEST(Ramps, AnyLookRisesOnceDrawnBack) {
  std::mt19937 random(3);
  int fell = 0;
  for (int i = 0; i < 40; ++i) {
    Drawn d = i % 2 ? Wild(random) : AsSolved(random, 3);
    fell += FallByItself(d) >= 1;
    d.look = WithRisingRamps(d.look, d.offset);
    EXPECT_LT(FallByItself(d), 1) << "steps of 8 bits, look " << i;
    EXPECT_LT(LargestFall(d.look, d.offset), 1);
  }
  EXPECT_GT(fell, 5) << "there was something to mend";
}

TEST(Ramps, WhatRisesIsLeftAlone) {
  std::mt19937 random(4);
  for (int i = 0; i < 20; ++i) {
    const Drawn d = AsSolved(random, 0.7);
    if (LargestFall(d.look, d.offset) < kMostFall) EXPECT_EQ(WithRisingRamps(d.look, d.offset), d.look);
  }
  EXPECT_LT(LargestFall(NeutralLook(), {0, 0, 0}), 1e-6);
}

}  // namespace
}  // namespace samelight::look
