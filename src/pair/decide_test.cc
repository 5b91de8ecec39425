#include "pair/decide.h"

#include <gtest/gtest.h>

#include <limits>

namespace samelight::pair {
namespace {

using record::PairKind;

ScanView Nothing(int frames) {
  ScanView s;
  s.match.assign(frames, 0.01);
  s.log_ratio.assign(frames, -1.5);
  s.verified.assign(frames, false);
  s.likeness.assign(frames, 0.1);
  s.refused.assign(frames, false);
  return s;
}

ScanView Shows(int frames, int frame, double match, double ratio = 9) {
  ScanView s = Nothing(frames);
  s.match[frame] = match;
  s.log_ratio[frame] = ratio;
  s.verified[frame] = true;
  return s;
}

const std::vector<int> kLight{0, 0, 0, 1, 1, 1};
const std::vector<double> kTime{0, 60, 120, 5000, 5060, 5120};
const Order kUntouched{0.95, 0.9}, kOutOfPlace{0.9, 0.2}, kShuffled{0.1, 0};

TEST(Decide, AVerifiedFrameIsTheMoment) {
  const auto a = Decide({Shows(6, 4, 0.9)}, kLight, kTime);
  EXPECT_EQ(a[0].choice.frame, 4);
  EXPECT_EQ(a[0].choice.kind, PairKind::kMoment);
  EXPECT_NEAR(a[0].choice.confidence, 0.9, 1e-9);
}

TEST(Decide, FramesOfOneMomentShareTheConfidence) {
  ScanView s = Shows(6, 4, 0.45);
  s.match[5] = 0.4;
  s.log_ratio[5] = 8;
  s.verified[5] = true;
  s.match[0] = 0.1;
  s.verified[0] = true;
  const auto a = Decide({s}, kLight, kTime);
  EXPECT_EQ(a[0].choice.frame, 4);
  EXPECT_NEAR(a[0].choice.confidence, 0.85, 1e-9);
  ASSERT_EQ(a[0].others.size(), 2u);
  EXPECT_EQ(a[0].others[0].frame, 5);
  EXPECT_EQ(a[0].others[1].frame, 0);
}

TEST(Decide, BetweenTwoLightsThatMayBothBeItNothingIsClaimed) {
  ScanView s = Shows(6, 4, 0.5);
  for (const auto& [frame, match] : {std::pair(5, 0.15), {0, 0.2}, {1, 0.1}}) {
    s.match[frame] = match;
    s.verified[frame] = true;
  }
  // Neighbours of one light on the roll change nothing: their order is in the probabilities.
  const auto a = Decide({Shows(6, 3, 0.95), s, Shows(6, 3, 0.95)}, kLight, kTime)[1];
  EXPECT_TRUE(a.doubtful);
  EXPECT_EQ(a.choice.kind, PairKind::kNone);
  EXPECT_NEAR(a.choice.confidence, 0.05, 1e-9);  // that no frame goes with it
  ASSERT_EQ(a.others.size(), 2u);                // one for each light, with its probability
  EXPECT_EQ(a.others[0].frame, 4);
  EXPECT_NEAR(a.others[0].confidence, 0.65, 1e-9);
  EXPECT_EQ(a.others[1].frame, 0);
  EXPECT_NEAR(a.others[1].confidence, 0.3, 1e-9);

  s.match[4] = 0.65;
  s.match[0] = 0.05;
  const auto b = Decide({s}, kLight, kTime)[0];
  EXPECT_FALSE(b.doubtful);
  EXPECT_EQ(b.choice.frame, 4);
  EXPECT_NEAR(b.choice.confidence, 0.8, 1e-9);
}

TEST(Decide, WhatOnlyTheOrderTellsIsSaid) {
  ScanView s = Shows(6, 4, 0.97);
  s.match[0] = 0.02;
  s.verified[0] = true;
  s.alone = Nothing(6).match;
  s.alone[4] = s.alone[0] = 0.49;
  const auto a = Decide({s}, kLight, kTime)[0];
  EXPECT_TRUE(a.by_order);
  EXPECT_EQ(a.choice.frame, 4);
  s.alone[4] = 0.96;
  s.alone[0] = 0.03;
  EXPECT_FALSE(Decide({s}, kLight, kTime)[0].by_order);
  s.alone[4] = 0.9;  // without an order several lights are left open
  EXPECT_TRUE(Decide({s}, kLight, kTime)[0].by_order);
  s.verified[0] = false;  // one light is claimed without the order too,
  s.alone[4] = 0.8;       // but not as sure
  EXPECT_TRUE(Decide({s}, kLight, kTime)[0].by_order);
  s.match[4] = 0.85;
  EXPECT_FALSE(Decide({s}, kLight, kTime)[0].by_order);
}

TEST(Decide, WithoutOrderALightAmongSeveralIsForThePicturesToTell) {
  ScanView s = Shows(6, 4, 0.93);
  s.match[0] = 0.05;
  s.verified[0] = true;
  s.alone = s.match;
  s.alone[4] = 0.9;
  EXPECT_EQ(Decide({s}, kLight, kTime, {}, kUntouched)[0].choice.kind, PairKind::kMoment);
  for (const Order& order : {kOutOfPlace, kShuffled}) {
    s.alone[4] = 0.9;
    s.verified[0] = true;
    const Answer open = Decide({s}, kLight, kTime, {}, order)[0];
    EXPECT_EQ(open.choice.kind, PairKind::kNone);
    EXPECT_TRUE(open.doubtful);
    s.alone[4] = 0.96;
    EXPECT_EQ(Decide({s}, kLight, kTime, {}, order)[0].choice.kind, PairKind::kMoment);
    s.alone[4] = 0.85;
    s.verified[0] = false;  // of one light the order says nothing
    EXPECT_EQ(Decide({s}, kLight, kTime, {}, order)[0].choice.kind, PairKind::kMoment);
  }
}

TEST(Decide, NearlyCertainOnlyWithoutARivalLight) {
  ScanView s = Shows(6, 4, 0.9999, 14);
  EXPECT_GE(Decide({s}, kLight, kTime)[0].choice.confidence, 0.99);
  s.verified[0] = true;
  s.match[0] = 1e-6;
  EXPECT_LT(Decide({s}, kLight, kTime)[0].choice.confidence, 0.99);
  EXPECT_LT(Decide({Shows(6, 4, 0.9999, 8)}, kLight, kTime)[0].choice.confidence, 0.99);
}

TEST(Decide, BetweenTwoScansOfOneLightItIsThatLight) {
  ScanView unknown = Nothing(6);
  unknown.likeness[1] = 0.6;
  const auto a = Decide({Shows(6, 0, 0.95), unknown, Shows(6, 2, 0.95)}, kLight, kTime);
  EXPECT_EQ(a[1].choice.kind, PairKind::kLight);
  EXPECT_EQ(a[1].choice.frame, 1);
  EXPECT_GE(a[1].choice.confidence, 0.5);
}

TEST(Decide, NeighboursOnAShuffledRollAreNotAsked) {
  const std::vector<ScanView> roll{Shows(6, 0, 0.95), Nothing(6), Shows(6, 2, 0.95)};
  EXPECT_EQ(Decide(roll, kLight, kTime, {}, kUntouched)[1].choice.kind, PairKind::kLight);
  const Answer a = Decide(roll, kLight, kTime, {}, kShuffled)[1];
  EXPECT_EQ(a.choice.kind, PairKind::kNone);
  EXPECT_GT(a.choice.confidence, 0.9);
}

TEST(Decide, BetweenTwoLightsOrAtTheEndOfARollItIsNone) {
  const auto a = Decide({Shows(6, 0, 0.95), Nothing(6), Shows(6, 4, 0.95), Nothing(6)}, kLight, kTime);
  for (int i : {1, 3}) {
    EXPECT_EQ(a[i].choice.kind, PairKind::kNone);
    EXPECT_EQ(a[i].choice.frame, -1);
    EXPECT_LT(a[i].choice.confidence, 0.99);
  }
}

TEST(Decide, APersonsWordOutranks) {
  ScanView refused = Shows(6, 4, 0.9);
  refused.refused[4] = true;
  ScanView joined = Shows(6, 4, 0.9);
  joined.joined = 1;
  const auto a = Decide({refused, joined}, kLight, kTime);
  EXPECT_EQ(a[0].choice.kind, PairKind::kNone);
  EXPECT_TRUE(a[0].by_person);
  for (const Choice& c : a[0].others) EXPECT_NE(c.frame, 4);
  EXPECT_EQ(a[1].choice.frame, 1);
  EXPECT_EQ(a[1].choice.kind, PairKind::kMoment);
  EXPECT_EQ(a[1].choice.confidence, 1);
  EXPECT_TRUE(a[1].by_person);
}

}  // namespace
}  // namespace samelight::pair
