#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <limits>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>

#include "base/file.h"
#include "report/testing.h"

namespace samelight::report {
namespace {

using Json = nlohmann::ordered_json;

std::vector<std::string> Keys(const Json& json) {
  std::vector<std::string> keys;
  for (const auto& [key, value] : json.items()) keys.push_back(key);
  return keys;
}

// Every key of the tree, "frames[].correction.exposure".
void Collect(const Json& json, const std::string& at, std::set<std::string>& all) {
  if (json.is_array())
    for (const Json& item : json) Collect(item, at + "[]", all);
  if (json.is_object())
    for (const auto& [key, value] : json.items()) {
      const std::string here = at.empty() ? key : at + "." + key;
      all.insert(here);
      Collect(value, here, all);
    }
}

TEST(Json, SaysWhatTheReportHolds) {
  const Json json = Json::parse(JsonText(SmallReport()));
  EXPECT_THAT(Keys(json), testing::ElementsAre("schema", "program", "session", "totals", "pairs", "scans",
                                               "lights", "rolls", "frames", "problems", "clocks", "notes",
                                               "settings", "thresholds"));
  ASSERT_EQ(json["pairs"].size(), 1u);
  EXPECT_EQ(json["pairs"][0]["scan"], "000001.jpg");
  EXPECT_EQ(json["pairs"][0]["frame"], "A_0002.dng");
  EXPECT_EQ(json["pairs"][0]["kind"], "moment");
  EXPECT_EQ(json["pairs"][0]["confidence"], 0.97);
  EXPECT_EQ(json["pairs"][0]["alternatives"][0]["frame"], "A_0001.dng");
  ASSERT_EQ(json["scans"].size(), 2u);
  EXPECT_EQ(json["scans"][0]["nudge"], 1.4);
  EXPECT_EQ(json["scans"][0]["influence"], 0.3);
  EXPECT_EQ(json["scans"][0]["position"], 0);
  EXPECT_EQ(json["scans"][1]["kind"], "none");
  EXPECT_TRUE(json["scans"][1]["frame"].is_null());
  ASSERT_EQ(json["frames"].size(), 3u);
  const Json& frame = json["frames"][1];
  EXPECT_EQ(frame["output"], "A_0002.jpg");
  EXPECT_EQ(frame["source"], "Heron 2 raw");
  EXPECT_EQ(frame["light"], "light 1");
  EXPECT_EQ(frame["scan"], "000001.jpg");
  EXPECT_EQ(frame["correction"]["exposure"], 0.25);
  EXPECT_EQ(frame["correction"]["follow"], 100);
  EXPECT_EQ(frame["left_over"][0]["region"], "skin");
  EXPECT_EQ(frame["left_over"][0]["after"], 3);
  EXPECT_TRUE(frame["left_over"][0]["face"].is_null());
  EXPECT_TRUE(frame["left_over"][0]["side"].is_null());
  EXPECT_EQ(frame["left_over"][0]["nudge"], 1.2);
  EXPECT_EQ(frame["left_over"][0]["off_aim"], 2.1);
  EXPECT_EQ(json["totals"]["film_to_film"], 1.9);
  EXPECT_EQ(json["totals"]["film_to_film_rolls"], 1);
  EXPECT_EQ(json["rolls"][0]["film_to_film"], 1.9);
  EXPECT_EQ(json["rolls"][0]["expired"], false);
  EXPECT_EQ(json["settings"]["follow_scan"], false);
  EXPECT_EQ(json["settings"]["skin_weight"], 6);
  EXPECT_EQ(json["lights"][0]["skin_sigma"][2], 0.75);
  EXPECT_TRUE(json["lights"][1]["skin_sigma"].is_null());
  EXPECT_EQ(json["frames"][2]["flags"][0]["text"], "no film of this light");
  EXPECT_EQ(json["frames"][2]["flags"][0]["kind"], "no-film");
  EXPECT_EQ(json["lights"][0]["green_magenta"], 2);
  EXPECT_THAT(json["lights"][0]["scans"], testing::ElementsAre("000001.jpg"));
  EXPECT_EQ(json["rolls"][0]["push"], 1);
  EXPECT_EQ(json["problems"][0]["file"], "frames/A_0009.dng");
  EXPECT_EQ(json["problems"][0]["what"], "set aside");
  EXPECT_EQ(json["problems"][0]["why"], "the file ends early");
  EXPECT_EQ(json["problems"][0]["code"], "damaged");
}

TEST(Json, EveryKeyIsDocumentedWithItsPath) {
  std::ifstream file(SAMELIGHT_SOURCE_DIR "/docs/report.md");
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  ASSERT_FALSE(text.empty());
  std::set<std::string> keys;
  Collect(Json::parse(JsonText(SmallReport())), "", keys);
  for (const std::string& key : keys)
    EXPECT_NE(text.find("| `" + key + "` |"), std::string::npos) << key << " is missing in docs/report.md";
  // And no documented key that is not written.
  for (std::size_t at = text.find("\n| `"); at != std::string::npos; at = text.find("\n| `", at + 1)) {
    const std::string key = text.substr(at + 4, text.find('`', at + 4) - at - 4);
    EXPECT_TRUE(keys.contains(key)) << key << " is documented but not written";
  }
}

TEST(Json, WritesNullForWhatIsNotANumber) {
  Report report = SmallReport();
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  report.frames[1].left_over[0].before = nan;
  report.frames[1].left_over[0].lab_after = {nan, inf, -inf};
  report.frames[1].uncertainty.skin = inf;
  report.frames[0].shown.warmth_mired = nan;
  report.lights[0].mired = inf;
  report.clocks[1].offset_s = nan;
  report.pairs[0].confidence = nan;
  report.scan_nudges[{1}] = {nan, inf};
  report.roll_spreads[0].de = nan;
  report.tolerance = nan;
  const std::string text = JsonText(report);
  const std::regex not_a_number("\\b(nan|inf|infinity)\\b", std::regex::icase);
  EXPECT_FALSE(std::regex_search(text, not_a_number));
  const Json json = Json::parse(text);
  EXPECT_TRUE(json["frames"][1]["left_over"][0]["before"].is_null());
  EXPECT_TRUE(json["frames"][1]["left_over"][0]["lab_after"][2].is_null());
  EXPECT_TRUE(json["frames"][1]["uncertainty"]["skin"].is_null());
  EXPECT_TRUE(json["pairs"][0]["confidence"].is_null());
  EXPECT_TRUE(json["totals"]["left_over"].empty());  // its only left-over has no value
}

TEST(Json, KeepsOddNamesAndReplacesBrokenOnes) {
  Report report = SmallReport();
  report.photos[2].path = "frames/\"Zo\xC3\xAB\" \\ <1>.dng";
  report.photos[3].path = "frames/\xFF\xFE.dng";
  const Json json = Json::parse(JsonText(report));
  EXPECT_EQ(json["frames"][0]["frame"], "\"Zo\xC3\xAB\" \\ <1>.dng");
  EXPECT_EQ(json["frames"][1]["frame"], "\xEF\xBF\xBD\xEF\xBF\xBD.dng");
}

TEST(Json, SkipsIdsThatNameNoPhoto) {
  Report report = SmallReport();
  report.pairs[0].frame = {999};
  report.lights[0].frames.push_back({998});
  report.rolls.push_back({RollId{6}, "roll 9", "", "", false, 0, {{997}}});
  const Json json = Json::parse(JsonText(report));
  EXPECT_TRUE(json["pairs"].empty());
  EXPECT_EQ(json["lights"][0]["frames"].size(), 2u);
  EXPECT_EQ(json["rolls"].size(), 1u);
}

TEST(Json, AnEmptySessionIsStillAReport) {
  const Json json = Json::parse(JsonText(Report{}));
  EXPECT_EQ(json["totals"]["frames"], 0);
  EXPECT_TRUE(json["pairs"].is_array());
}

TEST(Json, IsWrittenWhole) {
  const std::filesystem::path path =
      std::filesystem::temp_directory_path() / ("samelight-json-" + std::to_string(::getpid()));
  ASSERT_TRUE(WriteJson(path, SmallReport()).ok());
  const auto bytes = ReadFile(path, 1 << 20);
  ASSERT_TRUE(bytes.ok());
  EXPECT_EQ(std::string(bytes->begin(), bytes->end()), JsonText(SmallReport()));
  std::filesystem::remove(path);
  EXPECT_EQ(WriteJson(path / "no" / "folder", SmallReport()).error().code, ErrorCode::kNotFound);
}

}  // namespace
}  // namespace samelight::report
