// Looks in sessions: taken up by a word, kept as they were, taken back; and what can go wrong.
#include "job/looks.h"

#include <gtest/gtest.h>

#include <fstream>

#include "exchange/look_folder.h"
#include "exchange/testing.h"
#include "job/stages.h"
#include "job/words.h"

namespace samelight::job {
namespace {

class LooksTest : public testing::Test {
 protected:
  // Tests of this suite may run at once.
  LooksTest()
      : folder_(fs::path(testing::TempDir()) /
                (std::string("samelight_job_looks_") +
                 testing::UnitTest::GetInstance()->current_test_info()->name())) {
    fs::remove_all(folder_);
    fs::create_directories(folder_);
    EXPECT_TRUE(exchange::KeepLook(looks(), exchange::SomeLook()).ok());
  }
  ~LooksTest() override { fs::remove_all(folder_); }
  fs::path looks() const { return folder_ / "looks"; }
  fs::path session_file() const { return folder_ / "a.samelight"; }

  Status Say(const std::string& look) {
    auto session = session::Session::Open(session_file(), session::Access::kCreate);
    if (!session.ok()) return session.error();
    MatchRequest request;
    request.look = LookWish{look, looks()};
    return SayMatchWords(**session, request);
  }
  session::Standing Standing() {
    auto session = session::Session::Open(session_file(), session::Access::kRead);
    return session::Fold(*(*session)->Words());
  }

  fs::path folder_;
};

TEST_F(LooksTest, ASessionKeepsTheLookAsItWas) {
  ASSERT_TRUE(Say("meadow, north lab").ok());
  fs::remove_all(looks());
  const Result<std::optional<record::LearnedLook>> look = EarlierLook(Standing());
  ASSERT_TRUE(look.ok()) << look.error().Text();
  ASSERT_TRUE(look->has_value());
  EXPECT_EQ((*look)->name, "meadow, north lab");
  EXPECT_EQ((*look)->lessons.size(), 2u);
  // The solve begins from it, which makes another fit.
  auto session = session::Session::Open(session_file(), session::Access::kRead);
  const Result<solve::Request> request = RequestOfSession(**session, Standing());
  ASSERT_TRUE(request.ok());
  EXPECT_TRUE(request->earlier.has_value());
}

TEST_F(LooksTest, ALookIsTakenBackAndPutAway) {
  ASSERT_TRUE(Say("meadow, north lab").ok());
  ASSERT_TRUE(Say("meadow, north lab").ok());  // said already: no further step of the history
  Result<UndoAnswer> undone = Undo(session_file());
  ASSERT_TRUE(undone.ok());
  EXPECT_EQ(undone->what, "begin from the look 'meadow, north lab'");
  EXPECT_TRUE(Standing().look.text.empty());
  EXPECT_EQ(Undo(session_file())->what, "");
  EXPECT_FALSE(Redo(session_file())->what.empty());
  EXPECT_FALSE(Standing().look.text.empty());
  ASSERT_TRUE(Say("none").ok());
  EXPECT_TRUE(Standing().look.text.empty());
}

TEST_F(LooksTest, LooksAreOfferedAndNeverTakenUnasked) {
  record::Roll roll;
  EXPECT_NE(OfferOf({}, {}, looks()).find("meadow, north lab"), std::string::npos);  // no film at all
  EXPECT_EQ(OfferOf({}, {roll}, looks()), "");  // film of an unknown stock
  roll.stock = "meadow";
  roll.lab = "north lab";
  EXPECT_NE(OfferOf({}, {roll}, looks()).find("meadow, north lab"), std::string::npos);
  roll.lab = "south lab";
  EXPECT_EQ(OfferOf({}, {roll}, looks()), "");
  session::Standing taken;
  taken.look = {"meadow", "{}"};
  EXPECT_EQ(OfferOf(taken, {}, looks()), "");
}

TEST_F(LooksTest, WhatIsNotThereIsNamed) {
  const Status said = Say("river");
  ASSERT_FALSE(said.ok());
  EXPECT_EQ(said.error().code, ErrorCode::kNotFound);
  EXPECT_NE(said.error().todo.find("meadow, north lab"), std::string::npos);
  EXPECT_TRUE(Standing().look.text.empty());
}

TEST_F(LooksTest, AnUnmatchedSessionTeachesNothing) {
  ASSERT_TRUE(Say("meadow, north lab").ok());
  SilentProgress silent;
  LookLearnRequest request;
  request.sessions = {session_file()};
  request.folder = looks();
  const Result<LookAnswer> learned = LearnLooks(request, {silent, {}});
  ASSERT_FALSE(learned.ok());
  EXPECT_EQ(learned.error().code, ErrorCode::kNothingToDo);
  EXPECT_NE(learned.error().what.find("not matched"), std::string::npos);
  for (const char* name : {"a/b", "x.json", "none"}) {
    request.name = name;
    EXPECT_EQ(LearnLooks(request, {silent, {}}).error().code, ErrorCode::kInvalidArgument) << name;
  }
}

TEST_F(LooksTest, ExportsAreWrittenByTheirEnding) {
  SilentProgress silent;
  LookExportRequest request;
  request.look = {"meadow, north lab", looks()};
  request.nodes = 17;
  for (const char* name : {"a.clf", "a.icc"}) {
    request.file = folder_ / name;
    const Result<LookExportAnswer> answer = ExportLook(request, {silent, {}});
    ASSERT_TRUE(answer.ok()) << answer.error().Text();
    EXPECT_TRUE(fs::exists(request.file));
    EXPECT_EQ(answer->nodes, 17);
    EXPECT_GT(answer->mean, 0);
    EXPECT_GE(answer->most, answer->mean);
  }
  request.file = folder_ / "a.txt";
  EXPECT_EQ(ExportLook(request, {silent, {}}).error().code, ErrorCode::kInvalidArgument);
  request.file = folder_ / "a.clf";
  request.nodes = 5;
  EXPECT_EQ(ExportLook(request, {silent, {}}).error().code, ErrorCode::kInvalidArgument);
}

// Counts steps, and asks to stop after some of them.
class Watched final : public Progress {
 public:
  explicit Watched(int stop_after) : left_(stop_after) {}
  void Begin(const std::string& name, long total) override {
    stages.push_back(name);
    all += total;
  }
  void Advance(long steps) override {
    done += steps;
    if (--left_ == 0) cancel.Request();
  }
  void End() override {}
  std::vector<std::string> stages;
  std::atomic<long> all = 0, done = 0;
  Cancel cancel;

 private:
  std::atomic<int> left_;
};

TEST_F(LooksTest, AnExportTellsHowFarItIsAndStopsWithoutAFile) {
  LookExportRequest request;
  request.look = {"meadow, north lab", looks()};
  request.nodes = 33;
  request.file = folder_ / "stopped.clf";
  Watched stopped(3);
  const Result<LookExportAnswer> none = ExportLook(request, {stopped, stopped.cancel});
  ASSERT_FALSE(none.ok());
  EXPECT_EQ(none.error().code, ErrorCode::kCancelled);
  EXPECT_LT(stopped.done, 33);
  EXPECT_FALSE(fs::exists(request.file));
  Watched whole(-1);
  ASSERT_TRUE(ExportLook(request, {whole, whole.cancel}).ok());
  EXPECT_GE(whole.done, 33) << "a step for each plane of the table";
  EXPECT_EQ(whole.done, whole.all) << "every stage comes to its end";
  EXPECT_EQ(whole.stages.back(), "writing the file");
  EXPECT_TRUE(fs::exists(request.file));
}

TEST_F(LooksTest, ABrokenLookIsNamedInTheList) {
  std::ofstream(looks() / "bad.look.json") << "{\"format\": \"samelight look\", \"version\": 9}";
  const Result<LookAnswer> list = ListLooks(looks());
  ASSERT_TRUE(list.ok());
  EXPECT_EQ(list->looks.size(), 1u);
  ASSERT_EQ(list->problems.size(), 1u);
  EXPECT_NE(list->problems[0].why.find("version 9"), std::string::npos);
  EXPECT_TRUE(ShowLook({"meadow, north lab", looks()}).ok());
  EXPECT_FALSE(ShowLook({(looks() / "bad.look.json").string(), looks()}).ok());
}

}  // namespace
}  // namespace samelight::job
