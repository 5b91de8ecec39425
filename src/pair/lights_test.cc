#include "pair/lights.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <set>

#include "pair/lights_testing.h"

namespace samelight::pair {
namespace {

using testing::LinkNeighbours;
using testing::PairwiseF1;
using Session = testing::Lit;

struct Situation {
  double mired, duv, brightness_ev;
  int frames;
  double pause_before_s;
};

// Frames in moments of three, half a minute to six minutes apart; the camera's white errs by 12 mired, the
// brightness by 0.8 EV (subjects differ), one in twelve frames is far off.
Session Simulate(const std::vector<Situation>& situations, unsigned seed, bool with_links = true) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0, 1);
  std::uniform_real_distribution<double> uniform(0, 1);
  Session out;
  double now = 36000;
  for (std::size_t s = 0; s < situations.size(); ++s) {
    now += situations[s].pause_before_s;
    for (int f = 0; f < situations[s].frames; ++f) {
      now += f % 3 ? 2 + 15 * uniform(random) : 30 + 330 * uniform(random);
      const bool odd = uniform(random) < 1 / 12.0;
      Moment m;
      m.time_s = now;
      m.mired = situations[s].mired + 12 * normal(random) + (odd ? 60 : 0);
      m.duv = situations[s].duv + 0.003 * normal(random);
      m.white_trust = 0.9;
      m.brightness_ev = situations[s].brightness_ev + 0.8 * normal(random);
      if (with_links && f > 0 && uniform(random) < 0.6)
        out.links.emplace_back(static_cast<int>(out.moments.size()) - 1,
                               static_cast<int>(out.moments.size()));
      out.moments.push_back(m);
      out.truth.push_back(static_cast<int>(s));
    }
  }
  return out;
}

const std::vector<Situation> kDay{{200, 0.001, 6, 14, 0},    {145, 0.004, 11, 12, 2400},
                                  {182, 0.003, 14, 9, 1500}, {170, 0.006, 10, 17, 2700},
                                  {235, 0.002, 9, 8, 5400},  {350, -0.003, 5, 13, 2400},
                                  {430, -0.002, 3, 10, 1800}};

TEST(Lights, FindsTheSituationsOfADay) {
  double worst = 1, sum = 0;
  for (unsigned seed = 1; seed <= 12; ++seed) {
    const Session s = Simulate(kDay, seed);
    const double f1 = PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {}));
    worst = std::min(worst, f1);
    sum += f1;
  }
  EXPECT_GT(worst, 0.85);
  EXPECT_GT(sum / 12, 0.96);
}

TEST(Lights, TellsALampFromDaylightWithoutAPause) {
  for (unsigned seed = 1; seed <= 5; ++seed) {
    const Session s = Simulate({{200, 0, 6, 15, 0}, {380, 0, 4, 15, 0}}, seed);
    EXPECT_GT(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 0.9) << seed;
  }
}

TEST(Lights, OneSituationStaysOneInSpiteOfOddFrames) {
  for (unsigned seed = 1; seed <= 8; ++seed) {
    const Session s = Simulate({{190, 0.002, 9, 40, 0}}, seed);
    const auto light = SegmentLights(s.moments, s.links, {});
    EXPECT_EQ(std::set<int>(light.begin(), light.end()).size(), 1u) << seed;
  }
}

TEST(Lights, BackAndForthIsOneLightWhereThePlaceIsTheSame) {
  Session s = Simulate({{200, 0.001, 6, 9, 0}, {150, 0.004, 12, 9, 200}, {200, 0.001, 6, 9, 200}}, 5);
  for (int& t : s.truth) t = t == 2 ? 0 : t;
  s.links.emplace_back(2, 20);  // one mistaken link: another room that happens to be lit alike
  const auto apart = SegmentLights(s.moments, s.links, {});
  EXPECT_NE(apart[2], apart[20]);
  s.links.emplace_back(2, 21);  // the same room again
  s.links.emplace_back(4, 20);
  EXPECT_GT(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 0.95);
}

TEST(Lights, ThePlaceAtAnotherHourIsAnotherLight) {
  Session s = Simulate({{200, 0.001, 6, 9, 0}, {200, 0.001, 6.3, 9, 3 * 3600}}, 6);
  s.links.emplace_back(2, 12);
  const auto light = SegmentLights(s.moments, s.links, {});
  EXPECT_NE(light[2], light[12]);
}

TEST(Lights, FlashIsALightOfItsOwn) {
  Session s = Simulate({{400, 0, 4, 20, 0}}, 7);
  for (std::size_t i = 0; i < s.moments.size(); i += 3) {
    s.moments[i].flash = true;
    s.moments[i].mired = 400;  // a camera left on the lamps' white
    s.truth[i] = 1;
  }
  const auto light = SegmentLights(s.moments, s.links, {});
  EXPECT_EQ(PairwiseF1(s.truth, light), 1);
}

TEST(Lights, ThePlaceChangesUnderOneSkyAfterTenMinutes) {
  for (unsigned seed = 1; seed <= 8; ++seed) {
    // Same colour, same brightness, ten minutes' walk; pauses inside a light go up to six minutes.
    Session s =
        Simulate({{170, 0.002, 11, 30, 0}, {170, 0.002, 11, 30, 600}, {170, 0.002, 11, 30, 600}}, seed);
    LinkNeighbours(s, {30, 60});
    EXPECT_GT(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 0.95) << seed;
    LinkNeighbours(s, {});  // the pause alone, with the same things before and after it, is no other light
    EXPECT_LT(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 0.6) << seed;
  }
}

TEST(Lights, WhatIsInThePictureIsNoLight) {
  // One walk along a lake shore, from the dark wood to the bright water: pictures side by side agree, both
  // ends lie four stops apart.
  for (unsigned seed = 1; seed <= 8; ++seed) {
    Session s =
        Simulate({{170, 0.002, 11, 54, 0}, {250, 0.002, 11, 54, 1500}, {170, 0.002, 8, 54, 1500}}, seed);
    LinkNeighbours(s, {54, 108});
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 0.2);
    for (int i = 0; i < 162; ++i) {
      const double subject = i < 54 ? 2.1 * std::tanh((i - 26) / 4.0) : std::sin(i / 4.0);
      s.moments[i].brightness_ev = (i < 108 ? 11 : 8) + subject + normal(random);
    }
    EXPECT_GT(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 0.98) << seed;
  }
}

TEST(Lights, LampsComeOnInsideABurst) {
  for (unsigned seed = 1; seed <= 8; ++seed) {
    Session s = Simulate({{230, 0.001, 5, 12, 0}, {330, 0.001, 5.5, 3, 0}, {230, 0.001, 5, 12, 0}}, seed);
    LinkNeighbours(s, {});
    for (std::size_t i = 0; i < s.moments.size(); ++i) {
      s.moments[i].time_s = 36000 + 2.0 * static_cast<double>(i);  // one burst, two seconds apart
      s.moments[i].mired = (s.truth[i] == 1 ? 330 : 230) + static_cast<double>((7 * i + seed) % 11) - 5;
      s.moments[i].flash = false;
      if (s.truth[i] == 2) s.truth[i] = 0;
    }
    EXPECT_EQ(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 1) << seed;
  }
}

TEST(Lights, AgainstTheLightIsAnotherLight) {
  for (unsigned seed = 1; seed <= 8; ++seed) {
    Session s = Simulate({{170, 0.002, 11, 10, 0}, {170, 0.002, 11, 10, 0}}, seed);
    LinkNeighbours(s, {});  // one place, and the same sun
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 0.5);
    for (std::size_t i = 0; i < s.moments.size(); ++i)
      s.moments[i].backlight_ev = (s.truth[i] ? -2.5 : 0.2) + normal(random);
    EXPECT_GT(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 0.85) << seed;
  }
}

TEST(Lights, FlashIsToldByWhatItDoesWhereTheFileDoesNotSay) {
  for (unsigned seed = 1; seed <= 8; ++seed) {
    Session s = Simulate({{370, 0, 4, 24, 0}}, seed);
    LinkNeighbours(s, {});
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 12);
    for (std::size_t i = 0; i < s.moments.size(); ++i) {
      s.truth[i] = i % 3 == 1;
      s.moments[i].mired = (s.truth[i] ? 215 : 370) + normal(random);
    }
    EXPECT_EQ(PairwiseF1(s.truth, SegmentLights(s.moments, s.links, {})), 1) << seed;
  }
}

// Few frames, hardly linked, as a short reception is: the whites fall into two heaps.
TEST(Lights, FlashIsToldFromFewFramesToo) {
  int flashed = 0, told = 0, falsely = 0;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const double lamps = 300 + 9.0 * seed;
    Session s = Simulate({{lamps, 0, 4, 8, 0}}, seed);
    std::mt19937 random(seed + 50);
    std::normal_distribution<double> normal(0, 1);
    s.links = {{0, 1}, {1, 2}, {3, 4}, {5, 6}, {6, 7}};
    for (std::size_t i = 0; i < s.moments.size(); ++i) {
      s.truth[i] = seed % 4 != 0 && (i * 5 + seed) % 3 == 1;  // every fourth session has none
      s.moments[i].mired = lamps + (s.truth[i] ? 0.65 * (180 - lamps) : 0) + 14 * normal(random);
      s.moments[i].shadow_warmth = 1 + (s.truth[i] ? 0.6 : 0) + 0.4 * normal(random);
    }
    std::vector<bool> guessed;
    SegmentLights(s.moments, s.links, {}, &guessed);
    for (std::size_t i = 0; i < s.moments.size(); ++i) {
      flashed += s.truth[i];
      told += s.truth[i] && guessed[i];
      falsely += !s.truth[i] && guessed[i];
    }
  }
  EXPECT_GE(told, 0.9 * flashed) << "of " << flashed;
  EXPECT_LE(falsely, 2);
}

TEST(Lights, StrayingWhitesAreNoFlash) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    Session s = Simulate({{150.0 + 12 * seed, 0, 5, 60, 0}}, seed);
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 26);  // twice a camera's usual error
    for (Moment& m : s.moments) m.mired = 150.0 + 12 * seed + normal(random);
    std::vector<bool> guessed;
    SegmentLights(s.moments, s.links, {}, &guessed);
    EXPECT_LE(std::count(guessed.begin(), guessed.end(), true), 3) << seed;
  }
}

TEST(Lights, APersonsCutHolds) {
  const Session s = Simulate({{190, 0.002, 9, 20, 0}}, 9);
  const auto light = SegmentLights(s.moments, s.links, {8});
  EXPECT_EQ(light[0], light[7]);
  EXPECT_NE(light[7], light[8]);
  EXPECT_EQ(light[8], light[19]);
}

TEST(Lights, WithoutAnyMetadataThereIsOneLight) {
  std::vector<Moment> moments(6);  // no time, no white that could be trusted, no exposure
  for (int i = 0; i < 6; ++i) moments[i].mired = 150 + 10 * i;
  const auto light = SegmentLights(moments, {}, {});
  EXPECT_EQ(std::set<int>(light.begin(), light.end()).size(), 1u);
  EXPECT_TRUE(SegmentLights({}, {}, {}).empty());
}

}  // namespace
}  // namespace samelight::pair
