#include "exchange/look_file.h"

#include <gtest/gtest.h>

#include <fstream>

#include "exchange/look_folder.h"
#include "exchange/testing.h"

namespace samelight::exchange {
namespace {

namespace fs = std::filesystem;

std::string Replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return at == std::string::npos ? text : text.replace(at, from.size(), to);
}

void ExpectNear(const record::Belief& a, const record::Belief& b) {
  ASSERT_EQ(a.mean.size(), b.mean.size());
  ASSERT_EQ(a.covariance.size(), b.covariance.size());
  for (std::size_t i = 0; i < a.mean.size(); ++i)
    EXPECT_NEAR(a.mean[i], b.mean[i], 1e-8 * (1 + std::abs(a.mean[i])));
  for (std::size_t i = 0; i < a.covariance.size(); ++i)
    EXPECT_NEAR(a.covariance[i], b.covariance[i], 1e-7 * (1 + std::abs(a.covariance[i])));
}

TEST(LookFile, ComesBackAsItWasWritten) {
  const record::LearnedLook look = SomeLook();
  const Result<record::LearnedLook> back = ReadLook(LookText(look), "f");
  ASSERT_TRUE(back.ok()) << back.error().Text();
  ExpectNear(back->look, look.look);
  ExpectNear(back->rule, look.rule);
  ASSERT_EQ(back->lessons.size(), 2u);
  ExpectNear(back->lessons[1].look, look.lessons[1].look);
  ExpectNear(back->lessons[1].rule, look.lessons[1].rule);
  EXPECT_EQ(back->grain, look.grain);
  record::LearnedLook rest = *back;
  rest.look = look.look;
  rest.rule = look.rule;
  for (std::size_t i = 0; i < 2; ++i) {
    rest.lessons[i].look = look.lessons[i].look;
    rest.lessons[i].rule = look.lessons[i].rule;
  }
  EXPECT_EQ(rest, look);
  // What was read is written as the same text: nothing drifts from one rewriting to the next.
  EXPECT_EQ(LookText(*ReadLook(LookText(*back), "f")), LookText(*back));
}

TEST(LookFile, SaysWhichEntryIsWrong) {
  const std::string text = LookText(SomeLook());
  const auto why = [&](const std::string& from, const std::string& to) {
    const Result<record::LearnedLook> read = ReadLook(Replaced(text, from, to), "bad.look.json");
    EXPECT_FALSE(read.ok()) << from << " -> " << to;
    if (read.ok()) return std::string();
    EXPECT_EQ(read.error().file, "bad.look.json");
    return read.error().what;
  };
  EXPECT_NE(why("\"version\": 1", "\"version\": 2").find("version 2"), std::string::npos);
  EXPECT_NE(why("\"look_between\": 0.25", "\"look_between\": -1").find("look_between"), std::string::npos);
  EXPECT_NE(why("\"look_between\": 0.25", "\"look_between\": \"x\"").find("not a number"), std::string::npos);
  EXPECT_NE(why("\"level_sigma\": 0.09", "\"level_sigma\": 1e999").find("not a look"), std::string::npos);
  EXPECT_NE(why("\"level_sigma\": 0.09", "\"level_sigma\": NaN").find("not a look"), std::string::npos);
  EXPECT_NE(why("\"level_sigma\"", "\"level_sigme\"").find("level_sigma is missing"), std::string::npos);
  EXPECT_NE(why("\"red gamma\": [", "\"red gamma\": [99, ").find("red gamma"), std::string::npos);
  EXPECT_NE(why("\"meadow, north lab\"", "\"two\\nlines\"").find("control"), std::string::npos);
  EXPECT_NE(why("\"meadow, north lab\"", "\"\"").find("name is empty"), std::string::npos);
  EXPECT_NE(why("\"scans\": 12", "\"scans\": 0").find("scans"), std::string::npos);
  EXPECT_NE(why("\"scans\": 12", "\"scans\": 1.5").find("whole"), std::string::npos);
  EXPECT_NE(why("\"density\": [", "\"density\": [9, ").find("grain"), std::string::npos);
  EXPECT_NE(why("0.6", "1.6").find("correlation"), std::string::npos);
  EXPECT_FALSE(ReadLook("", "f").ok());
  EXPECT_FALSE(ReadLook("[]", "f").ok());
  EXPECT_FALSE(ReadLook(text.substr(0, text.size() / 2), "f").ok());
  EXPECT_EQ(ReadLook(std::string(kMostLookBytes + 1, ' '), "f").error().code, ErrorCode::kTooLarge);
}

TEST(LookFile, RefusesACovarianceThatCannotBe) {
  record::LearnedLook look = SomeLook();
  // Three numbers cannot each go against the two others this strongly.
  record::Belief& belief = look.rule;
  const auto set = [&](int row, int column, double correlation) {
    belief.covariance[static_cast<std::size_t>(row * (row + 1) / 2 + column)] =
        correlation * belief.Sigma(row) * belief.Sigma(column);
  };
  set(1, 0, -0.9);
  set(2, 0, -0.9);
  set(2, 1, -0.9);
  const Result<record::LearnedLook> read = ReadLook(LookText(look), "f");
  ASSERT_FALSE(read.ok());
  EXPECT_NE(read.error().what.find("positive definite"), std::string::npos);
}

class LookFolder : public testing::Test {
 protected:
  // Tests of this suite may run at once.
  LookFolder()
      : folder_(fs::path(testing::TempDir()) /
                (std::string("samelight_looks_") +
                 testing::UnitTest::GetInstance()->current_test_info()->name())) {
    fs::remove_all(folder_);
  }
  ~LookFolder() override { fs::remove_all(folder_); }
  fs::path folder_;
};

TEST_F(LookFolder, KeepsAndFindsLooks) {
  EXPECT_TRUE(LooksIn(folder_)->looks.empty());  // not there: none
  record::LearnedLook look = SomeLook();
  Result<fs::path> file = KeepLook(folder_, look);
  ASSERT_TRUE(file.ok()) << file.error().Text();
  look.name = "a/b: ../c";
  file = KeepLook(folder_, look);
  ASSERT_TRUE(file.ok());
  EXPECT_EQ(file->parent_path(), folder_);
  std::ofstream(folder_ / "broken.look.json") << "{";
  std::ofstream(folder_ / "notes.txt") << "not a look";
  const Result<KeptLooks> kept = LooksIn(folder_);
  ASSERT_TRUE(kept.ok());
  ASSERT_EQ(kept->looks.size(), 2u);
  EXPECT_EQ(kept->looks[0].name, "a/b: ../c");
  ASSERT_EQ(kept->problems.size(), 1u);
  EXPECT_NE(kept->problems[0].file.find("broken"), std::string::npos);
  EXPECT_TRUE(FindLook(folder_, "meadow, north lab").ok());
  EXPECT_TRUE(FindLook("/nowhere", file->string()).ok());
  const Result<record::LearnedLook> none = FindLook(folder_, "river");
  ASSERT_FALSE(none.ok());
  EXPECT_NE(none.error().todo.find("meadow, north lab"), std::string::npos);
}

TEST_F(LookFolder, IsWhereTheUsersDataIs) {
  // XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else $HOME/.local/share; relative paths are
  // ignored.
  const char* home = std::getenv("HOME");
  const std::string old_home = home == nullptr ? "" : home;
  const char* data = std::getenv("XDG_DATA_HOME");
  const std::string old_data = data == nullptr ? "" : data;
  ::setenv("HOME", "/h", 1);
  ::setenv("XDG_DATA_HOME", "/d", 1);
  EXPECT_EQ(UsualLookFolder(), "/d/samelight/looks");
  ::setenv("XDG_DATA_HOME", "relative", 1);
  EXPECT_EQ(UsualLookFolder(), "/h/.local/share/samelight/looks");
  ::unsetenv("XDG_DATA_HOME");
  EXPECT_EQ(UsualLookFolder(), "/h/.local/share/samelight/looks");
  ::setenv("HOME", old_home.c_str(), 1);
  if (!old_data.empty()) ::setenv("XDG_DATA_HOME", old_data.c_str(), 1);
}

}  // namespace
}  // namespace samelight::exchange
