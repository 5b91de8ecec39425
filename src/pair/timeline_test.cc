#include "pair/timeline.h"

#include <gtest/gtest.h>

namespace samelight::pair {
namespace {

TEST(NaturalOrder, CountsDigitsAsNumbers) {
  EXPECT_TRUE(NaturalLess("roll/2.jpg", "roll/10.jpg"));
  EXPECT_FALSE(NaturalLess("roll/10.jpg", "roll/2.jpg"));
  EXPECT_TRUE(NaturalLess("a009b", "A10b"));
  EXPECT_TRUE(NaturalLess("a", "a1"));
  EXPECT_FALSE(NaturalLess("same", "same"));
  // Equal but for leading zeros: still one order.
  EXPECT_NE(NaturalLess("a01", "a1"), NaturalLess("a1", "a01"));
}

std::vector<record::Photo> Named(std::initializer_list<const char*> names) {
  std::vector<record::Photo> out;
  for (const char* n : names) {
    out.emplace_back();
    out.back().path = n;
  }
  return out;
}

Timeline Order(const std::vector<record::Photo>& photos, const std::vector<std::optional<double>>& times,
               const std::vector<Kin>& kin = {}) {
  std::vector<const record::Photo*> pointers;
  for (const record::Photo& p : photos) pointers.push_back(&p);
  return OrderFrames(pointers, times, kin);
}

TEST(Timeline, GoesByTime) {
  EXPECT_EQ(Order(Named({"c", "a", "b"}), {3.0, 1.0, 2.0}).order, (std::vector<int>{1, 2, 0}));
}

TEST(Timeline, WithoutTimesGoesByName) {
  const Timeline t = Order(Named({"x10", "x9", "x1"}), {{}, {}, {}});
  EXPECT_EQ(t.order, (std::vector<int>{2, 1, 0}));
  EXPECT_FALSE(t.time_s[0].has_value());
}

TEST(Timeline, AFrameWithoutTimeFollowsItsKinOrItsNeighbourByName) {
  const auto photos = Named({"d/P1", "d/P2", "d/P3", "d/P4", "e/Z1"});
  // P2 has no time: after P1. P4 looks like Z1: after that.
  const Timeline t = Order(photos, {10.0, {}, 20.0, {}, 5.0}, {{3, 4, 50}, {1, 3, 90}});
  EXPECT_EQ(t.order, (std::vector<int>{4, 3, 0, 1, 2}));
  EXPECT_EQ(t.time_s[3], 5.0);
}

}  // namespace
}  // namespace samelight::pair
