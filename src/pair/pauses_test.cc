// Lights where pauses tell less than in the simulator's days, which always rest shorter than they walk, and
// whose pauses end before a change begins (decision 0040). Days without pixels.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <random>

#include "pair/lights_testing.h"

namespace samelight::pair {
namespace {

struct Habits {
  bool gradual;  // the sky changes over the first four moments of a light, and the pause falls among them
  double longest_rest_s, shortest_walk_s;
};

// Ten lights of 60 frames in moments of three, half a minute to six apart, one rest in ten longer. Half of
// all changes are of the place alone, under the same sky; the others are of the sky too, or, where they are
// gradual, of the sky alone.
testing::Lit DayOf(unsigned seed, const Habits& habits) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0, 1);
  std::uniform_real_distribution<double> uniform(0, 1);
  testing::Lit out;
  constexpr int kLights = 10, kMoments = 20;
  double now = 36000, mired = 180, level = 12, was_mired = mired, was_level = level;
  std::set<int> breaks;
  for (int light = 0; light < kLights; ++light) {
    const bool place_only = light % 2 == 1;
    if (light > 0 && !place_only) {
      was_mired = mired;
      was_level = level;
      do mired = 150 + 250 * uniform(random);
      while (std::abs(mired - was_mired) < 60);  // less is no other light
      level = 4 + 9 * uniform(random);
    }
    const int pause_at =
        habits.gradual && light > 0 && !place_only ? static_cast<int>(4 * uniform(random)) : 0;
    if (light > 0 && (place_only || !habits.gradual)) breaks.insert(static_cast<int>(out.moments.size()));
    for (int m = 0; m < kMoments; ++m) {
      const double rest = uniform(random) < 0.1 ? 360 + (habits.longest_rest_s - 360) * uniform(random)
                                                : 30 + 330 * uniform(random);
      now += light > 0 && m == pause_at
                 ? habits.shortest_walk_s + (1500 - habits.shortest_walk_s) * uniform(random)
                 : rest;
      const double share = habits.gradual && light > 0 && !place_only ? std::min(1.0, (m + 1) / 4.0) : 1;
      for (int f = 0; f < 3; ++f) {
        now += f ? 2 + 15 * uniform(random) : 0;
        Moment moment;
        moment.time_s = now;
        moment.mired = was_mired + share * (mired - was_mired) + 12 * normal(random);
        moment.duv = 0.002 + 0.003 * normal(random);
        moment.white_trust = 0.9;
        moment.brightness_ev = was_level + share * (level - was_level) + 0.8 * normal(random);
        out.moments.push_back(moment);
        out.truth.push_back(share < 0.5 ? light - 1 : light);
      }
    }
    was_mired = mired;
    was_level = level;
  }
  testing::LinkNeighbours(out, breaks);
  std::erase_if(out.links, [&](const Link&) { return uniform(random) < 0.5; });
  return out;
}

// Pairwise F1 over eight days: the mean and the worst.
std::pair<double, double> Found(const Habits& habits) {
  double worst = 1, sum = 0;
  constexpr int kDays = 8;
  for (unsigned seed = 41; seed < 41 + kDays; ++seed) {
    const testing::Lit day = DayOf(seed, habits);
    const double f1 = testing::PairwiseF1(day.truth, SegmentLights(day.moments, day.links, {}));
    worst = std::min(worst, f1);
    sum += f1;
  }
  return {sum / kDays, worst};
}

TEST(LargePauses, LightsHoldWhereAPauseBeginsOrEndsInsideAChange) {
  const auto [mean, worst] = Found({true, 420, 600});
  std::printf("  pauses inside changes: pairwise F1 %.3f on average, %.3f at worst\n", mean, worst);
  EXPECT_GE(mean, 0.95);
  EXPECT_GE(worst, 0.9);
}

// Rests of up to twenty minutes, walks from two on: what is left are the links.
TEST(LargePauses, WherePausesTellNothingAPlaceUnderTheSameSkyMayBeMissed) {
  const auto [mean, worst] = Found({false, 1200, 120});
  std::printf("  pauses that tell nothing: pairwise F1 %.3f on average, %.3f at worst\n", mean, worst);
  EXPECT_GE(mean, 0.8);
}

}  // namespace
}  // namespace samelight::pair
