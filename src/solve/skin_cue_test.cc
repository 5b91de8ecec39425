// Synthetic truth: a plain look, one skin, lights that differ in the colour of their film.
#include "solve/skin_cue.h"

#include <gtest/gtest.h>

#include <cmath>

#include "solve/earlier.h"

namespace samelight::solve {
namespace {

const Vec3 kSkin{0.30, 0.22, 0.16};

double Level(const OffsetPrior& p) { return (p.mean[0] + p.mean[1] + p.mean[2]) / 3; }
double ChromaApart(const LookVector& look, const OffsetPrior& p, const Vec3& lab) {
  const Vec3 now = PredictLab(look, p.mean, kSkin);
  return std::hypot(now[1] - lab[1], now[2] - lab[2]);
}

TEST(SkinCue, DrawsTheColourOfALightPartOfTheWayAndNeverItsLevel) {
  const LookVector look = BuiltIn().look.mean;
  const Vec3 seen = PredictLab(look, {0.6, 0.6, 0.6}, kSkin);
  OffsetPrior belief{{0.63, 0.6, 0.52}, 0.1, 0.05};  // too warm, and not sure
  const double before = ChromaApart(look, belief, seen);
  double last = before;
  for (int lights = 1; lights <= 4; ++lights) {
    const OffsetPrior after = WithSkinCue(belief, look, kSkin, std::vector<Vec3>(lights, seen));
    const double now = ChromaApart(look, after, seen);
    EXPECT_LT(now, last + 1e-9) << "more lights are heard more";
    EXPECT_GT(now, 0.1 * before) << "skin differs from light to light";
    EXPECT_NEAR(Level(after), Level(belief), 1e-9);
    EXPECT_EQ(after.level_sigma, belief.level_sigma);
    EXPECT_LT(after.colour_sigma, belief.colour_sigma);
    last = now;
  }
  // A light that is known moves less.
  OffsetPrior known = belief;
  known.colour_sigma = 0.01;
  EXPECT_GT(ChromaApart(look, WithSkinCue(known, look, kSkin, {seen}), seen), 0.8 * before);
}

TEST(SkinCue, OtherSkinIsNotBent) {
  const LookVector look = BuiltIn().look.mean;
  const OffsetPrior belief{{0.6, 0.6, 0.6}, 0.1, 0.03};
  Vec3 seen = PredictLab(look, belief.mean, kSkin);
  const Vec3 here = seen;
  seen[2] += 45;
  EXPECT_LT(ChromaApart(look, WithSkinCue(belief, look, kSkin, {seen, seen, seen}), here), 4.5);
}

TEST(SkinCue, NothingSeenChangesNothing) {
  const OffsetPrior belief{{0.6, 0.55, 0.5}, 0.1, 0.03};
  const OffsetPrior after = WithSkinCue(belief, BuiltIn().look.mean, kSkin, {});
  EXPECT_EQ(after.mean, belief.mean);
  EXPECT_EQ(after.colour_sigma, belief.colour_sigma);
}

}  // namespace
}  // namespace samelight::solve
