#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>
#include <regex>

#include "report/markup.h"
#include "report/testing.h"

namespace samelight::report {
namespace {

using testing::HasSubstr;
using testing::Not;

const Thumbnail kNoPictures = [](PhotoId, Version, int) { return std::vector<std::uint8_t>{}; };

std::string Drawn(const Report& report) {
  return HtmlText(report, [](PhotoId id, Version version, int px) {
    return std::vector<std::uint8_t>{static_cast<std::uint8_t>(id.value), static_cast<std::uint8_t>(version),
                                     static_cast<std::uint8_t>(px > 400 ? 1 : 0)};
  });
}

int Times(const std::string& text, const std::string& what) {
  int n = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++n;
  return n;
}

TEST(Html, ShowsEachPairAsScanFrameAndDelivered) {
  const std::string html = Drawn(SmallReport());
  for (const std::vector<std::uint8_t>& jpeg :
       std::vector<std::vector<std::uint8_t>>{{1, 0, 1}, {12, 0, 1}, {12, 1, 1}})
    EXPECT_EQ(Times(html, JpegUri(jpeg)), 1);
  EXPECT_THAT(html, HasSubstr("same moment, 97\u00a0% sure"));
  EXPECT_THAT(html, HasSubstr("<td class=is>redder"));
  EXPECT_THAT(html, HasSubstr("+0.25\u00a0EV"));
}

TEST(Html, ShowsStripsWorklistUnpairedScansAndProblems) {
  const std::string html = Drawn(SmallReport());
  for (const std::uint8_t frame : {11, 12, 13})
    EXPECT_THAT(html, HasSubstr(JpegUri(std::vector<std::uint8_t>{frame, 1, 0})));
  EXPECT_THAT(html, HasSubstr("no film of this light"));
  EXPECT_EQ(Times(html, "class=check"), 1);
  EXPECT_THAT(html, HasSubstr("Scans without a frame"));
  EXPECT_THAT(html, HasSubstr(JpegUri(std::vector<std::uint8_t>{2, 0, 0})));
  EXPECT_THAT(html, HasSubstr("the file ends early"));
  EXPECT_THAT(html, HasSubstr("1 light has no film of its own"));
  EXPECT_THAT(html, HasSubstr("The clock of Corvid 3 is taken as 37 s behind"));
}

TEST(Html, EveryPictureHasAnAlternativeText) {
  const std::string html = Drawn(SmallReport());
  const std::regex image("<img src=\"data:image/jpeg;base64,[A-Za-z0-9+/=]+\" alt=\"[^\"]+\">");
  const auto described =
      std::distance(std::sregex_iterator(html.begin(), html.end(), image), std::sregex_iterator());
  EXPECT_EQ(described, Times(html, "<img"));
  EXPECT_GT(described, 5);
}

TEST(Html, AsksForNothingFromOutside) {
  const std::string html = Drawn(SmallReport());
  for (const char* part : {"http:", "https:", "//", "<script", "<link", "@import", "url(", "@font-face"})
    EXPECT_THAT(html, Not(HasSubstr(part))) << part;
  EXPECT_THAT(html, HasSubstr("default-src 'none'"));
}

TEST(Html, EscapesEveryTextThatComesFromFilesOrPeople) {
  const std::string evil = "\"><script>alert('x')</script>&";
  Report report = SmallReport();
  report.session = report.version = evil;
  for (record::Photo& p : report.photos) p.path += evil;
  for (record::Light& l : report.lights) l.name = evil;
  for (record::Roll& r : report.rolls) r.name = evil;
  for (record::FrameSolution& s : report.frames) {
    s.look = evil;
    s.flags = {{record::FlagKind::kOther, evil, evil}};
  }
  for (auto& [id, output] : report.outputs) output = evil;
  report.problems[0] = {evil, evil, evil, evil, ErrorCode::kDamaged};
  report.clocks[1].body = evil;
  report.notes = {evil};
  for (const std::string& html : {Drawn(report), HtmlText(report, kNoPictures)}) {
    EXPECT_THAT(html, Not(HasSubstr("<script")));
    EXPECT_THAT(html, Not(HasSubstr("alert('x')")));
    EXPECT_THAT(html, HasSubstr("&quot;&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;"));
  }
}

TEST(Html, NeverWritesWhatIsNotANumber) {
  Report report = SmallReport();
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  record::LeftOver& l = report.frames[1].left_over[0];
  l.before = nan;
  l.after = inf;
  l.lab_scan = {nan, nan, nan};
  report.frames[1].shown = {nan, inf, nan, nan, nan, nan, nan, -inf};
  report.frames[1].correction.follow = nan;
  report.lights[0].mired = nan;
  report.clocks[1].offset_s = nan;
  report.pairs[0].confidence = nan;
  report.tolerance = nan;
  const std::string html = Drawn(report);
  const std::regex not_a_number("[^a-z](nan|inf)[^a-z]");
  EXPECT_FALSE(std::regex_search(html, not_a_number));
}

TEST(Html, TellsTimesOnOneClock) {
  Report report = SmallReport();
  report.photos[4].capture.body = "Corvid 3";
  report.photos[4].capture.time_us = 13 * 3'600'000'000LL - 1'000'000;  // 12:59:59; its clock is 37 s behind
  EXPECT_THAT(Drawn(report), HasSubstr("light 2, 13:00, raw"));
}

TEST(Html, FramesThatShareTheirReasonAreToldOnce) {
  Report report = SmallReport();
  report.frames[0].flags = report.frames[1].flags = {{record::FlagKind::kOther, "exposure is uncertain", ""}};
  const std::string html = Drawn(report);
  EXPECT_EQ(Times(html, "exposure is uncertain"), 1);
  EXPECT_THAT(html, HasSubstr("A_0001.dng</span> and 1 more</h3>"));
  EXPECT_THAT(html, HasSubstr("<p class=more><span class=name>A_0002.dng</span></p>"));
  EXPECT_EQ(Times(html, "class=check"), 3);  // each is marked in its strip
}

TEST(Html, LeavesAPlaceWhereAPictureIsMissing) {
  const std::string html = HtmlText(SmallReport(), kNoPictures);
  EXPECT_THAT(html, Not(HasSubstr("<img")));
  EXPECT_EQ(Times(html, "<div class=none"), 3);
}

// A long session must stay a page that a browser opens at ease: 144 pairs of 40 kB pictures, 800 strip
// pictures of 9 kB.
TEST(Html, ALongSessionAsksForSmallerPictures) {
  Report report = SmallReport();
  for (int i = 0; i < 144; ++i) {
    record::Photo p = report.photos[0];
    p.id = {1000 + i};
    p.path = "scans/roll 1/" + std::to_string(1000 + i) + ".jpg";
    report.photos.push_back(p);
    record::Pair pair = report.pairs[0];
    pair.scan = p.id;
    report.pairs.push_back(pair);
  }
  int largest = 0;
  const std::string html = HtmlText(report, [&](PhotoId, Version, int px) {
    largest = std::max(largest, px);
    return std::vector<std::uint8_t>(static_cast<std::size_t>(px) * 80, 7);
  });
  EXPECT_LE(largest, 480);
  EXPECT_LT(html.size(), 30u << 20);
}

TEST(Html, AnEmptySessionIsStillAPage) {
  const std::string html = Drawn(Report{});
  EXPECT_THAT(html, HasSubstr("</html>"));
  EXPECT_THAT(html, Not(HasSubstr("<h2>Pairs")));
}

}  // namespace
}  // namespace samelight::report
