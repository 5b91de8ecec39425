// Lines of the Unicode Character Database 15.0, CaseFolding.txt (status C and F), and of its normal forms
// (UnicodeData.txt, decompositions; UAX #15).
#include "base/fold_case.h"

#include <gtest/gtest.h>

#include <utility>

namespace samelight {
namespace {

TEST(FoldCase, SameForTheLinesOfCaseFolding) {
  const std::pair<const char*, const char*> kLines[] = {
      {"\u0041", "\u0061"},              // 0041; C; 0061
      {"\u00C9", "\u00E9"},              // 00C9; C; 00E9
      {"\u00DF", "ss"},                  // 00DF; F; 0073 0073
      {"\u1E9E", "ss"},                  // 1E9E; F; 0073 0073
      {"\u0130", "i\u0307"},             // 0130; F; 0069 0307
      {"\u0149", "\u02BC\u006E"},        // 0149; F; 02BC 006E
      {"\u0390", "\u03B9\u0308\u0301"},  // 0390; F; 03B9 0308 0301
      {"\u03A3", "\u03C3"},              // 03A3; C; 03C3
      {"\u03C2", "\u03C3"},              // 03C2; C; 03C3
      {"\u0416", "\u0436"},              // 0416; C; 0436
      {"\u1F80", "\u1F00\u03B9"},        // 1F80; F; 1F00 03B9
      {"\uFB00", "ff"},                  // FB00; F; 0066 0066
      {"\u212A", "k"},                   // 212A; C; 006B
      {"\U00010400", "\U00010428"},      // 10400; C; 10428
  };
  for (const auto& [from, to] : kLines) EXPECT_EQ(FoldCase(from), FoldCase(to)) << from;
}

TEST(FoldCase, SameForComposedAndDecomposed) {
  EXPECT_EQ(FoldCase("caf\u00E9"), FoldCase("cafe\u0301"));  // 00E9 = 0065 0301
  EXPECT_EQ(FoldCase("\u00C5ngstr\u00F6m"), FoldCase("A\u030ANGSTRO\u0308M"));
  EXPECT_EQ(FoldCase("\u212B"), FoldCase("\u00E5"));                // 212B = 00C5
  EXPECT_EQ(FoldCase("\uAC00"), FoldCase("\u1100\u1161"));          // Hangul, by rule
  EXPECT_EQ(FoldCase("q\u0323\u0307"), FoldCase("Q\u0307\u0323"));  // order of marks
}

TEST(FoldCase, OthersStayApart) {
  EXPECT_NE(FoldCase("\u0131"), FoldCase("i"));  // 0131 folds for Turkic only
  EXPECT_NE(FoldCase("cafe"), FoldCase("caf\u00E9"));
  EXPECT_NE(FoldCase("\u00E6"), FoldCase("ae"));
  EXPECT_NE(FoldCase("\uFF21"), FoldCase("a"));  // a compatibility form is another character
}

TEST(FoldCase, WhatIsNotUtf8KeepsItsBytes) {
  EXPECT_EQ(FoldCase("\xC9T\xC9"), "\xC9t\xC9");
  EXPECT_EQ(FoldCase("AB\xff"), "ab\xff");
  EXPECT_EQ(FoldCase(""), "");
}

}  // namespace
}  // namespace samelight
