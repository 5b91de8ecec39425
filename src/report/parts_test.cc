#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "report/markup.h"
#include "report/testing.h"
#include "report/words.h"

namespace samelight::report {
namespace {

using testing::ElementsAre;

std::string Encoded(std::string_view text) {
  return Base64(std::span(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
}

TEST(Words, WhatWasAssumedOfColoursIsToldByKind) {
  std::vector<record::Photo> photos(4);
  for (std::size_t i = 0; i < photos.size(); ++i) photos[i].path = "day/" + std::to_string(i) + ".x";
  EXPECT_TRUE(AssumedColours(photos).empty());
  photos[0].encoding = record::Encoding::kRaw;
  photos[0].profile_assumed = photos[2].profile_assumed = photos[3].profile_assumed = true;
  EXPECT_THAT(AssumedColours(photos),
              ElementsAre(testing::StartsWith("0.x: the colours of the camera"),
                          testing::StartsWith("2 files (2.x and others): no colour")));
}

// RFC 4648, section 10: test vectors.
TEST(Base64, AsInTheStandard) {
  EXPECT_EQ(Encoded(""), "");
  EXPECT_EQ(Encoded("f"), "Zg==");
  EXPECT_EQ(Encoded("fo"), "Zm8=");
  EXPECT_EQ(Encoded("foo"), "Zm9v");
  EXPECT_EQ(Encoded("foob"), "Zm9vYg==");
  EXPECT_EQ(Encoded("fooba"), "Zm9vYmE=");
  EXPECT_EQ(Encoded("foobar"), "Zm9vYmFy");
  EXPECT_EQ(Encoded("\xFB\xFF\xFE"), "+//+");
}

TEST(Escape, MarksAndControls) {
  EXPECT_EQ(Escape("<a href='x'>\"&\"</a>"), "&lt;a href=&#39;x&#39;&gt;&quot;&amp;&quot;&lt;/a&gt;");
  EXPECT_EQ(Escape(std::string_view("a\0b\x1b\x7f\n", 6)), "a\uFFFDb\uFFFD\uFFFD\n");
}

// The Unicode Standard, table 3-7 (well-formed UTF-8): limits of each row, inside and outside.
TEST(Escape, KeepsWellFormedTextOnly) {
  for (const char* good : {"\x7E", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80",
                           "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"})
    EXPECT_EQ(Escape(good), good);
  EXPECT_EQ(Escape("\xC1\xBF"), "\uFFFD\uFFFD");                      // overlong
  EXPECT_EQ(Escape("\xE0\x9F\xBF"), "\uFFFD\uFFFD\uFFFD");            // overlong
  EXPECT_EQ(Escape("\xED\xA0\x80"), "\uFFFD\uFFFD\uFFFD");            // surrogate
  EXPECT_EQ(Escape("\xF4\x90\x80\x80"), "\uFFFD\uFFFD\uFFFD\uFFFD");  // beyond U+10FFFF
  EXPECT_EQ(Escape("\xE2\x82"), "\uFFFD\uFFFD");                      // ends early
  EXPECT_EQ(Escape("\xE2\x82<"), "\uFFFD\uFFFD&lt;");                 // no mark slips through
}

TEST(ShortNames, AsMuchOfThePathAsIsNeeded) {
  EXPECT_THAT(ShortNames({"a/1.jpg", "a/2.jpg"}), ElementsAre("1.jpg", "2.jpg"));
  EXPECT_THAT(ShortNames({"x/roll 1/1.jpg", "x/roll 2/1.jpg", "x/roll 2/2.jpg"}),
              ElementsAre("roll 1/1.jpg", "roll 2/1.jpg", "2.jpg"));
  EXPECT_THAT(ShortNames({"1.jpg", "a/1.jpg", "b/a/1.jpg"}), ElementsAre("1.jpg", "a/1.jpg", "b/a/1.jpg"));
  EXPECT_THAT(ShortNames({"/a/1.jpg", "a/1.jpg"}), ElementsAre("/a/1.jpg", "a/1.jpg"));
  EXPECT_THAT(ShortNames({"1.jpg", "1.jpg"}),
              ElementsAre("1.jpg", "1.jpg"));  // one file twice: ends all the same
  EXPECT_THAT(ShortNames({}), ElementsAre());
}

TEST(Totals, CountWhatIsThere) {
  Report report = SmallReport();
  report.barred = {{2}};
  report.outputs.erase({13});
  const Totals t = Sum(report);
  EXPECT_EQ(t.scans, 2);
  EXPECT_EQ(t.moment, 1);
  EXPECT_EQ(t.light, 0);
  EXPECT_EQ(t.none, 1);
  EXPECT_EQ(t.barred, 1);
  EXPECT_EQ(t.frames, 3);
  EXPECT_EQ(t.solved, 3);
  EXPECT_EQ(t.delivered, 2);
  EXPECT_EQ(t.settled, 2);
  EXPECT_EQ(t.to_check, 1);
  EXPECT_EQ(t.lights, 2);
  EXPECT_EQ(t.lights_with_film, 1);
  EXPECT_EQ(t.rolls, 1);
  EXPECT_EQ(t.problems, 1);
}

TEST(Totals, AFrameCountsOncePerRegion) {
  Report report = SmallReport();
  record::LeftOver face = report.frames[1].left_over[0];
  face.face = 0;
  face.after = 7;
  report.frames[1].left_over.push_back(face);  // the region as a whole (3) stands
  report.frames[0].left_over = {face};         // faces alone
  report.frames[2].left_over = {face};
  const Totals t = Sum(report);
  ASSERT_EQ(t.regions.size(), 1u);
  EXPECT_EQ(t.regions[0].frames, 3);
  EXPECT_EQ(t.regions[0].after, 7);  // of 3, 7, 7
  EXPECT_EQ(RegionName(face), "face 1");
  face.side = record::Side::kShaded;
  face.after = 99;
  report.frames[0].left_over = {report.frames[0].left_over[0], face};  // a side is part of its face
  EXPECT_EQ(Sum(report).regions[0].after, 7);
  EXPECT_EQ(RegionName(face), "face 1, shaded side");
}

TEST(Words, FiguresAndTimes) {
  EXPECT_EQ(Figure(3.44), "3.4");
  EXPECT_EQ(Figure(9.94), "9.9");
  EXPECT_EQ(Figure(9.96), "10");
  EXPECT_EQ(ClockTime(0), "00:00");
  EXPECT_EQ(ClockTime(86'399'000'000), "23:59");
  EXPECT_EQ(ClockTime(-60'000'000), "23:59");  // before 1970: the clock was never set
  EXPECT_EQ(Count(1, "scan"), "1 scan");
  EXPECT_EQ(Count(0, "scan"), "0 scans");
}

TEST(Words, DifferencesAreNamedByTheirLargestPart) {
  using record::RegionKind;
  EXPECT_EQ(DifferenceWord(RegionKind::kSkin, {60, 15, 18}, {60, 19, 17}, 3.3), "redder");
  EXPECT_EQ(DifferenceWord(RegionKind::kNeutral, {60, 0, 0}, {60, 2, 1}, 2.0), "a little more magenta");
  EXPECT_EQ(DifferenceWord(RegionKind::kSky, {60, 0, -20}, {60, 0, -26}, 4), "bluer");
  EXPECT_EQ(DifferenceWord(RegionKind::kShadow, {10, 0, 0}, {16, 0, 1}, 5), "lighter");
  EXPECT_EQ(DifferenceWord(RegionKind::kSkin, {60, 15, 18}, {60, 15.5, 18}, 0.4), "alike");
}

TEST(Words, OnlyHandlesThatMovedAreNamed) {
  record::Handles h;
  h.exposure_ev = -0.424;
  h.warmth_mired = 0.4;  // rounds to 0
  h.chroma = 0.06;
  const std::vector<HandleWord> words = HandleWords(h);
  ASSERT_EQ(words.size(), 2u);
  EXPECT_EQ(words[0].value, "\u22120.42\u00a0EV");
  EXPECT_EQ(words[1].name, "chroma");
  EXPECT_EQ(words[1].value, "+6\u00a0%");
}

}  // namespace
}  // namespace samelight::report
