// Stated confidences come true: what was fitted on other seeds (1 to 20) is tried on seeds that were never
// looked at. Invented sessions; the interval is that of Clopper and Pearson 1934.
#include "pair/reliability_testing.h"

#include <gtest/gtest.h>

#include <array>

namespace samelight::pair {
namespace {

using testing::BinomialInterval;
using testing::Claim;

TEST(Reliability, TheIntervalIsThePublishedOne) {
  // Agresti and Coull 1998, The American Statistician 52(2), 119: none of n gives 1 - (0.025)^(1/n) above.
  EXPECT_NEAR(BinomialInterval(0, 10).second, 1 - std::pow(0.025, 0.1), 1e-6);
  EXPECT_NEAR(BinomialInterval(10, 10).first, std::pow(0.025, 0.1), 1e-6);
  // Symmetric about a half.
  EXPECT_NEAR(BinomialInterval(5, 10).first, 1 - BinomialInterval(5, 10).second, 1e-6);
}

TEST(LargeReliability, StatedConfidencesComeTrueOnSeedsThatWereNeverLookedAt) {
  struct Bin {
    double from, to, stated = 0;
    int all = 0, right = 0;
  };
  std::array<Bin, 3> bins{{{0, 0.9}, {0.9, 0.99}, {0.99, 1.001}}};
  int wrong_and_sure = 0, claimed = 0;
  for (std::uint64_t seed = 501; seed < 511; ++seed)
    for (const Claim& c : testing::ClaimsOf(seed))
      for (Bin& b : bins)
        if (c.stated >= b.from && c.stated < b.to) {
          b.stated += c.stated;
          ++b.all;
          b.right += c.right;
          claimed += c.kind != record::PairKind::kNone;
          wrong_and_sure += !c.right && c.stated >= 0.99;
        }
  int judged = 0;
  for (const Bin& b : bins) {
    if (b.all == 0) continue;
    const auto [low, high] = BinomialInterval(b.right, b.all);
    const double mean = b.stated / b.all;
    std::printf("  stated %.2f to %.2f: %3d answers, mean %.3f, right %.3f (95 %%: %.3f to %.3f)\n", b.from,
                b.to, b.all, mean, static_cast<double>(b.right) / b.all, low, high);
    if (b.all < 30) continue;
    ++judged;
    EXPECT_GE(mean, low);
    EXPECT_LE(mean, high);
  }
  EXPECT_GE(judged, 2);
  EXPECT_EQ(wrong_and_sure, 0);
  EXPECT_GT(claimed, 60);
}

}  // namespace
}  // namespace samelight::pair
