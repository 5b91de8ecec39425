#include "job/window_words.h"

#include <gtest/gtest.h>

namespace samelight::job {
namespace {

TEST(NoteForWindow, SaysWhereInTheWindowInThePlaceOfTheOption) {
  EXPECT_EQ(
      NoteForWindow("the grain changes here: perhaps another film; then say --roll 'roll 2' split=7.jpg"),
      "the grain changes here: perhaps another film; then let another roll begin at this scan, in its menu "
      "on the loom");
  EXPECT_EQ(
      NoteForWindow("b renders colour unlike a: perhaps another stock or development (confidence 0.97); "
                    "then say --roll 'b' stock=NAME"),
      "b renders colour unlike a: perhaps another stock or development (confidence 0.97); then name the "
      "stock under Rolls and clocks in the session's menu");
  EXPECT_EQ(
      NoteForWindow("a light of its own (3 frames so); if not, say --light LIGHT join=OTHER LIGHT"),
      "a light of its own (3 frames so); if not, make it one light with its neighbour, in its menu on the "
      "loom");
}

TEST(NoteForWindow, LeavesOutWhatItDoesNotKnowAndKeepsTheRest) {
  EXPECT_EQ(NoteForWindow("odd; then say --other thing"), "odd");
  EXPECT_EQ(NoteForWindow("nearly the same as 4.jpg; one may be enough"),
            "nearly the same as 4.jpg; one may be enough");
  EXPECT_EQ(NoteForWindow(""), "");
}

TEST(TodoForWindow, SaysWhatToDoInTheWindow) {
  EXPECT_EQ(TodoForWindow("name another folder, or write over it with --again"),
            "name another folder, or tick “also what is delivered already”");
  EXPECT_EQ(TodoForWindow("choose one with --stock and --lab out of: a b; c d"),
            "leave the name empty, and each becomes a look of its own: a b; c d");
  EXPECT_EQ(TodoForWindow("copy it again from its source, or leave it out"),
            "copy it again from its source, or leave it out");
  EXPECT_EQ(TodoForWindow("`samelight order --help` lists what it has"), "") << "of no use there";
  const Error error = ErrorForWindow({ErrorCode::kNotFound, "there is no such session", "x.samelight",
                                      "check the name, or make it with `samelight new`"});
  EXPECT_EQ(error.todo, "check the name, or begin a new session (Ctrl N)");
  EXPECT_EQ(error.file, "x.samelight");
  EXPECT_TRUE(StatusForWindow({}).ok());
}

}  // namespace
}  // namespace samelight::job
