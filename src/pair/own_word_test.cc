#include "pair/own_word.h"

#include <gtest/gtest.h>

#include <random>

namespace samelight::pair {
namespace {

// Bursts of five frames, each linked to the four others.
std::vector<Link> Bursts(int count) {
  std::vector<Link> links;
  for (int burst = 0; burst < count; ++burst)
    for (int a = 0; a < 5; ++a)
      for (int b = a + 1; b < 5; ++b) links.emplace_back(5 * burst + a, 5 * burst + b);
  return links;
}

TEST(OwnWord, ABurstOfOneSubjectTellsItOnce) {
  std::mt19937 random(1);
  std::normal_distribution<double> normal(0, 1);
  std::vector<double> level;
  for (int burst = 0; burst < 40; ++burst) level.insert(level.end(), 5, normal(random));
  // Kish 1965: with all of the variance between clusters a cluster of five is worth one.
  for (double w : OwnWord(level, std::vector<double>(200, 1), Bursts(40))) EXPECT_NEAR(w, 0.2, 0.03);
}

// The sum of the shares is the size of an independent sample whose mean is as sure (Kish 1965, effective
// sample size); seen here by drawing many such sessions.
TEST(OwnWord, SharesSumToTheSampleThatItIsWorth) {
  std::mt19937 random(2);
  std::normal_distribution<double> normal(0, 1);
  double squares = 0, shares = 0;
  constexpr int kTrials = 400, kBursts = 60;
  for (int t = 0; t < kTrials; ++t) {
    std::vector<double> level;
    double sum = 0;
    for (int burst = 0; burst < kBursts; ++burst) {
      const double subject = 0.8 * normal(random);
      for (int f = 0; f < 5; ++f) sum += level.emplace_back(subject + 0.6 * normal(random));
    }
    squares += sum / (5 * kBursts) * sum / (5 * kBursts);
    for (double w : OwnWord(level, std::vector<double>(level.size(), 1), Bursts(kBursts))) shares += w;
  }
  const double worth = 1 / (squares / kTrials);  // a single frame has variance 1
  EXPECT_NEAR(shares / kTrials / worth, 1, 0.25) << worth;
}

TEST(OwnWord, FramesThatErrAnewCountEach) {
  std::mt19937 random(3);
  std::normal_distribution<double> normal(0, 1);
  std::vector<double> white(300);
  for (double& v : white) v = normal(random);
  double sum = 0;
  for (double w : OwnWord(white, std::vector<double>(300, 1), Bursts(60))) sum += w;
  EXPECT_GT(sum / 300, 0.7);
  for (double w : OwnWord(white, std::vector<double>(300, 1), {})) EXPECT_EQ(w, 1);
  for (double w : OwnWord(white, std::vector<double>(300, 0), Bursts(60))) EXPECT_EQ(w, 1);
  EXPECT_TRUE(OwnWord({}, {}, {}).empty());
}

}  // namespace
}  // namespace samelight::pair
