#include "base/result.h"

#include <gtest/gtest.h>

#include <memory>
#include <set>
#include <string>

namespace samelight {
namespace {

TEST(Result, HoldsAValueOrAnError) {
  const Result<int> good = 7;
  ASSERT_TRUE(good.ok());
  EXPECT_EQ(*good, 7);
  const Result<int> bad = Error{ErrorCode::kNotFound, "no such file", "a.dng", "look again"};
  ASSERT_FALSE(bad.ok());
  EXPECT_EQ(bad.error().code, ErrorCode::kNotFound);
}

TEST(Result, MovesWhatCannotBeCopied) {
  Result<std::unique_ptr<int>> result = std::make_unique<int>(3);
  const std::unique_ptr<int> taken = std::move(result).value();
  EXPECT_EQ(*taken, 3);
}

TEST(Result, AnErrorAsValueIsNotTakenForAFailure) {
  const Status good;
  const Status bad = Error{ErrorCode::kCancelled, "stopped", "", ""};
  EXPECT_TRUE(good.ok());
  EXPECT_FALSE(bad.ok());
  EXPECT_FALSE(static_cast<bool>(bad));
}

TEST(Error, TellsWhatWhichFileAndWhatToDo) {
  const Error e{ErrorCode::kDamaged, "the file ends early", "a.dng", "copy it again"};
  EXPECT_EQ(e.Text(), "the file ends early (a.dng): copy it again");
  EXPECT_EQ(e.In("reading pictures").Text(), "reading pictures: the file ends early (a.dng): copy it again");
  EXPECT_EQ((Error{ErrorCode::kInternal, "it failed", "", ""}).Text(), "it failed");
}

TEST(Error, EveryCodeHasItsOwnWord) {
  std::set<std::string> words;
  constexpr int kCodes = static_cast<int>(ErrorCode::kInternal) + 1;
  for (int i = 0; i < kCodes; ++i) {
    const std::string word = ErrorCodeName(static_cast<ErrorCode>(i));
    EXPECT_EQ(word.find_first_not_of("abcdefghijklmnopqrstuvwxyz-"), std::string::npos) << word;
    words.insert(word);
  }
  EXPECT_EQ(words.size(), static_cast<std::size_t>(kCodes));
}

}  // namespace
}  // namespace samelight
