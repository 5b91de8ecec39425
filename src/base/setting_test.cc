#include "base/setting.h"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

namespace samelight {
namespace {

TEST(Setting, EachHasHelpUnitReasonAndARangeThatHoldsItsDefault) {
  ASSERT_FALSE(AllSettings().empty());
  std::set<std::string> names;
  for (const Setting& s : AllSettings()) {
    SCOPED_TRACE(s.name);
    EXPECT_TRUE(names.insert(s.name).second) << "named twice";
    EXPECT_FALSE(s.name.empty());
    EXPECT_EQ(s.name.find_first_not_of("abcdefghijklmnopqrstuvwxyz-"), std::string::npos);
    EXPECT_FALSE(s.unit.empty());
    EXPECT_GE(s.help.size(), 15u);
    EXPECT_NE(s.help.back(), '.');
    EXPECT_GE(s.why.size(), 10u);
    EXPECT_TRUE(std::isfinite(s.least) && std::isfinite(s.most));
    EXPECT_LT(s.least, s.most);
    EXPECT_GE(s.usual, s.least);
    EXPECT_LE(s.usual, s.most);
    EXPECT_EQ(FindSetting(s.name), &s);
  }
  EXPECT_EQ(FindSetting("no-such-setting"), nullptr);
}

}  // namespace
}  // namespace samelight
