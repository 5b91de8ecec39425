#include "bench/score.h"

#include <gtest/gtest.h>

namespace samelight::bench {
namespace {

TEST(Median, OfOddAndEvenCountsAndOfNothing) {
  EXPECT_DOUBLE_EQ(Median({3, 1, 2}), 2);
  EXPECT_DOUBLE_EQ(Median({4, 1, kNone, 2, 3}), 2.5);
  EXPECT_TRUE(std::isnan(Median({})));
}

// Along the L* axis at L* = 50, CIEDE2000 is |dL| / SL with SL = 1 for a mean L* of 50: a grey of 48 against
// 52 is 4.
TEST(Compare, MeanPercentileAndSkin) {
  LabF truth(100, 1), shown(100, 1);
  image::PlaneU8 skin(100, 1);
  for (int i = 0; i < 100; ++i) {
    const bool far = i >= 90;
    truth.at(i, 0)[0] = far ? 48 : 50;
    shown.at(i, 0)[0] = far ? 52 : 50;
    for (int c = 1; c < 3; ++c) truth.at(i, 0)[c] = shown.at(i, 0)[c] = 0;
    *skin.at(i, 0) = i >= 80;
  }
  const FrameScore s = Compare(shown, truth, skin);
  EXPECT_TRUE(s.there);
  EXPECT_NEAR(s.mean, 0.4, 1e-6);
  EXPECT_NEAR(s.p95, 4, 1e-6);
  EXPECT_EQ(s.skin_px, 20);
  EXPECT_NEAR(s.skin, 2, 1e-6);
  EXPECT_NEAR(s.bias[0], 0.4, 1e-6);
  EXPECT_NEAR(s.skin_bias[0], 2, 1e-6);
  EXPECT_FALSE(Compare(LabF(), truth, {}).there);
}

FrameScore Score(double mean, Vec3 bias) {
  FrameScore s;
  s.there = true;
  s.mean = s.p95 = mean;
  s.bias = bias;
  return s;
}

TEST(Summarise, SpreadIsInsideALight) {
  // Two lights whose errors differ by 10 from each other, but only by 2 inside.
  const std::vector<FrameFact> facts = {{"a", 0, Group::kFilm},
                                        {"b", 0, Group::kFilm},
                                        {"c", 1, Group::kFilm},
                                        {"d", 1, Group::kFilm},
                                        {"e", 2, Group::kJpegFilm}};
  const std::vector<FrameScore> ours = {Score(1, {1, 0, 0}), Score(2, {3, 0, 0}), Score(3, {11, 0, 0}),
                                        Score(4, {13, 0, 0}), Score(9, {0, 0, 0})};
  const std::vector<FrameScore> untouched = {Score(5, {}), Score(5, {}), Score(2.5, {}), Score(5, {}),
                                             Score(8, {})};
  const RowScore row = Summarise(ours, facts, untouched);
  const GroupScore& film = row.group[static_cast<int>(Group::kFilm)];
  EXPECT_EQ(film.frames, 4);
  EXPECT_DOUBLE_EQ(film.mean, 2.5);
  EXPECT_DOUBLE_EQ(film.spread, 1);
  EXPECT_DOUBLE_EQ(film.spread_of_mean, 0.5);
  EXPECT_TRUE(std::isnan(row.group[static_cast<int>(Group::kNoFilm)].mean));
  EXPECT_DOUBLE_EQ(row.group[static_cast<int>(Group::kJpegFilm)].mean, 9);
  ASSERT_EQ(row.worse.size(), 2u);
  EXPECT_EQ(row.worse[0].name, "e");
  EXPECT_DOUBLE_EQ(row.worst_excess, 1);
  EXPECT_DOUBLE_EQ(row.worse_share, 0.4);
}

TEST(Summarise, CountsMissingPictures) {
  const RowScore row =
      Summarise({FrameScore(), Score(1, {})}, {{"a", 0, Group::kFilm}, {"b", 0, Group::kFilm}},
                {Score(2, {}), Score(2, {})});
  EXPECT_EQ(row.missing, 1);
  EXPECT_EQ(row.all.frames, 1);
  EXPECT_DOUBLE_EQ(row.worst_excess, 0);
}

}  // namespace
}  // namespace samelight::bench
