// Stated confidences come true: what was fitted on other seeds (1 to 60) is tried on seeds that were never
// looked at. Invented sessions; the interval is that of Clopper and Pearson 1934.
#include "pair/reliability_testing.h"

#include <gtest/gtest.h>

#include <algorithm>
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

// The bins were fixed before anything was looked at: tenths, the last one parted at 0.99.
struct Bins {
  std::array<double, 12> edge{0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99, 1.001};
  std::array<double, 11> stated{};
  std::array<int, 11> all{}, right{};
  int wrong_and_sure = 0;
  void Add(const Claim& c) {
    const auto bin = std::upper_bound(edge.begin(), edge.end(), c.stated) - edge.begin() - 1;
    stated[bin] += c.stated;
    ++all[bin];
    right[bin] += c.right;
    wrong_and_sure += !c.right && c.stated >= 0.99;
  }
  // Returns how many bins held enough to be judged.
  int Judge() const {
    int judged = 0;
    for (std::size_t b = 0; b < all.size(); ++b) {
      if (all[b] == 0) continue;
      const auto [low, high] = BinomialInterval(right[b], all[b]);
      const double mean = stated[b] / all[b];
      std::printf("  stated %.2f to %.2f: %3d answers, mean %.3f, right %.3f (95 %%: %.3f to %.3f)\n",
                  edge[b], edge[b + 1], all[b], mean, static_cast<double>(right[b]) / all[b], low, high);
      if (all[b] < 30) continue;
      ++judged;
      EXPECT_GE(mean, low) << "bin from " << edge[b];
      EXPECT_LE(mean, high) << "bin from " << edge[b];
    }
    EXPECT_EQ(wrong_and_sure, 0);
    return judged;
  }
};

TEST(LargeReliability, StatedConfidencesComeTrueOnSeedsThatWereNeverLookedAt) {
  Bins bins;
  for (std::uint64_t seed = 601; seed < 616; ++seed)
    for (const Claim& c : testing::ClaimsOf(seed)) bins.Add(c);
  EXPECT_GE(bins.Judge(), 2);
}

// Places that were seen at three hours: answers, and where nothing is claimed the alternatives.
TEST(LargeReliability, DoubtComesTrueToo) {
  Bins bins;
  for (std::uint64_t seed = 701; seed < 761; ++seed)
    for (const Claim& c : testing::DoubtfulClaimsOf(seed)) bins.Add(c);
  EXPECT_GE(bins.Judge(), 5);
}

}  // namespace
}  // namespace samelight::pair
