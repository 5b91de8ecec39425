// The desk on invented sessions (synthetic truth: the scans show a known film, the first frame is solved
// wrong).
#include "job/desk.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <unistd.h>
#include <limits>

#include <atomic>
#include <chrono>
#include <fstream>
#include <thread>

#include "base/file.h"
#include "color/difference.h"
#include "job/desk_testing.h"
#include "job/recent.h"
#include "simulate/session.h"

namespace samelight::job {
namespace {

namespace fs = std::filesystem;
using record::Handle;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;
using testing::SizeIs;

class DeskTest : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::temp_directory_path() / ("samelight-desk-" + std::to_string(::getpid()) + "-" +
                                           testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override {
    desk_.reset();
    fs::remove_all(folder_);
  }
  void Make(const InventedOptions& options = {}) {
    made_ = std::make_unique<InventedSession>(folder_, options);
    ASSERT_TRUE(made_->ok());
    Open();
  }
  void Open() {
    desk_.reset();
    auto desk = Desk::Open(made_->file(), [this] { ++rung_; });
    ASSERT_TRUE(desk.ok()) << desk.error().Text();
    desk_ = std::move(*desk);
    desk_->Wait();
    desk_->Poll();
  }
  // Waits for what is in the background and hears it.
  std::vector<Event> Hear() {
    desk_->Wait();
    std::vector<Event> events = desk_->Poll();
    desk_->Wait();
    for (Event& e : desk_->Poll()) events.push_back(std::move(e));
    return events;
  }
  PhotoId frame(std::size_t i) const { return made_->frames()[i]; }
  PhotoId scan(std::size_t i) const { return made_->scans()[i]; }
  const FrameRow& row(std::size_t i) const { return *desk_->book()->Frame(frame(i)); }

  fs::path folder_;
  std::unique_ptr<InventedSession> made_;
  std::unique_ptr<Desk> desk_;
  std::atomic<int> rung_ = 0;
};

record::Handles Exposure(double ev) {
  record::Handles h;
  h.exposure_ev = ev;
  return h;
}

TEST_F(DeskTest, RowsSayWhatStateEachFrameIsIn) {
  Make();
  const auto book = desk_->book();
  ASSERT_THAT(book->frames, SizeIs(40));
  ASSERT_THAT(book->scans, SizeIs(6));
  EXPECT_THAT(book->lights, SizeIs(4));
  EXPECT_EQ(book->frames.front().photo.id, frame(0)) << "in the order of time";
  EXPECT_EQ(row(0).state, FrameState::kToCheck) << "it is half a stop too dark";
  EXPECT_THAT(row(0).reasons, Contains(testing::Field(&record::Flag::text, HasSubstr("darker"))));
  EXPECT_GT(row(0).worst, 2.5);
  EXPECT_EQ(row(5).state, FrameState::kSettled);
  EXPECT_EQ(row(5).scan, scan(1));
  EXPECT_EQ(row(39).state, FrameState::kUnpaired) << "no film saw its light";
  EXPECT_EQ(book->settled, 29);
  EXPECT_EQ(book->to_check, 1);
  EXPECT_EQ(book->unpaired, 10);
}

TEST_F(DeskTest, ATouchIsInForceAtOnceAndTakesTheReasonAway) {
  Make();
  desk_->Touch(frame(0), Exposure(0.5));
  EXPECT_EQ(desk_->TouchOf(frame(0)).exposure_ev, 0.5);
  EXPECT_EQ(row(0).state, FrameState::kSettled) << "it was half a stop too dark, and is not any more";
  EXPECT_LT(row(0).worst, 0.5);
  EXPECT_EQ(desk_->book()->to_check, 0);
  const std::vector<Event> events = desk_->Poll();
  ASSERT_THAT(events, Contains(testing::VariantWith<FramesChanged>(testing::_)));
  EXPECT_GT(rung_, 0);
}

TEST_F(DeskTest, ATouchThatSetsSkinApartIsToldUntilItIsTakenBack) {
  Make();
  const auto apart = Contains(testing::Field(&record::Flag::kind, record::FlagKind::kSkinApart));
  record::Handles warm;
  warm.warmth_mired = 100;
  desk_->Touch(frame(3), warm);  // without a scan of its own
  EXPECT_THAT(row(3).reasons, apart);
  EXPECT_EQ(row(3).state, FrameState::kToCheck);
  EXPECT_THAT(row(4).reasons, Not(apart));
  desk_->Undo();
  Hear();
  EXPECT_THAT(row(3).reasons, Not(apart));
}

TEST_F(DeskTest, UndoAndRedoSurviveARestart) {
  Make();
  desk_->Touch(frame(0), Exposure(0.5));
  desk_->Touch(frame(1), Exposure(-1));
  Open();
  EXPECT_EQ(desk_->TouchOf(frame(1)).exposure_ev, -1);
  EXPECT_EQ(row(0).state, FrameState::kSettled);
  ASSERT_TRUE(desk_->CanUndo());
  desk_->Undo();
  const std::vector<Event> events = Hear();
  EXPECT_EQ(desk_->TouchOf(frame(1)).exposure_ev, 0);
  EXPECT_EQ(desk_->TouchOf(frame(0)).exposure_ev, 0.5);
  const auto turned = std::find_if(events.begin(), events.end(),
                                   [](const Event& e) { return std::holds_alternative<Turned>(e); });
  ASSERT_NE(turned, events.end());
  EXPECT_THAT(std::get<Turned>(*turned).what, HasSubstr("exposure -1.00 EV"));
  Open();
  ASSERT_TRUE(desk_->CanRedo());
  desk_->Redo();
  Hear();
  EXPECT_EQ(desk_->TouchOf(frame(1)).exposure_ev, -1);
  desk_->Undo();
  desk_->Undo();
  desk_->Undo();  // one too many
  Hear();
  EXPECT_EQ(desk_->TouchOf(frame(0)).exposure_ev, 0);
  EXPECT_EQ(row(0).state, FrameState::kToCheck) << "back to what was solved";
  EXPECT_FALSE(desk_->CanUndo());
}

TEST_F(DeskTest, AWordAfterAnUndoLosesNeither) {
  Make();
  desk_->Touch(frame(0), Exposure(0.5));
  desk_->Undo();
  desk_->Touch(frame(1), Exposure(-1));  // before the undo was heard
  EXPECT_EQ(desk_->TouchOf(frame(1)).exposure_ev, -1);
  Hear();
  EXPECT_EQ(desk_->TouchOf(frame(0)).exposure_ev, 0);
  EXPECT_EQ(desk_->TouchOf(frame(1)).exposure_ev, -1);
  EXPECT_EQ(desk_->book()->history.size(), 1u) << "a new word leaves nothing to redo";
}

TEST_F(DeskTest, WhatIsTakenBackTellsWhoseRowsItChanges) {
  Make();
  Hear();
  const auto told = [&]() -> std::vector<PhotoId> {
    std::vector<PhotoId> frames;
    for (const Event& e : Hear()) {
      EXPECT_FALSE(std::holds_alternative<BookChanged>(e));
      if (const auto* changed = std::get_if<FramesChanged>(&e)) frames = changed->frames;
    }
    return frames;
  };
  desk_->Touch(frame(4), Exposure(0.5));
  desk_->Settle({frame(1), frame(2)}, true);
  Hear();
  desk_->Undo();
  EXPECT_THAT(told(), testing::UnorderedElementsAre(frame(1), frame(2)));
  desk_->Undo();
  EXPECT_THAT(told(), testing::UnorderedElementsAre(frame(4)));
  desk_->Redo();
  EXPECT_THAT(told(), testing::UnorderedElementsAre(frame(4)));
  desk_->SetFollow(60, {frame(7), frame(8)}, std::nullopt);
  Hear();
  desk_->Undo();
  EXPECT_THAT(told(), testing::UnorderedElementsAre(frame(7), frame(8)));
  // A light is no matter of rows alone.
  desk_->SplitLight(frame(3));
  Hear();
  desk_->Undo();
  EXPECT_THAT(Hear(), Contains(testing::VariantWith<BookChanged>(testing::_)));
}

TEST_F(DeskTest, CarryingIsOneStepForWhoWasShown) {
  Make();
  record::Handles touch = Exposure(0.25);
  touch.warmth_mired = 12;
  desk_->Touch(frame(2), touch);
  desk_->Touch(frame(3), Exposure(-1));
  const Carry to_light{frame(2), Carry::To::kLight, {}, {Handle::kWarmth}};
  EXPECT_THAT(desk_->Reach(to_light), SizeIs(9));
  const Carry alike{frame(2), Carry::To::kLookAlikes, {}, {}};
  EXPECT_THAT(desk_->Reach(alike), testing::AllOf(Contains(frame(7)), testing::Not(Contains(frame(2)))));
  EXPECT_THAT(desk_->Reach(alike), testing::Not(Contains(frame(12)))) << "another light";
  desk_->DoCarry(to_light);
  EXPECT_EQ(desk_->TouchOf(frame(9)).warmth_mired, 12);
  EXPECT_EQ(desk_->TouchOf(frame(9)).exposure_ev, 0) << "only the chosen handle";
  EXPECT_EQ(desk_->TouchOf(frame(3)).exposure_ev, -1) << "its own stays";
  EXPECT_EQ(desk_->TouchOf(frame(10)).warmth_mired, 0);
  desk_->Undo();
  Hear();
  EXPECT_EQ(desk_->TouchOf(frame(9)).warmth_mired, 0);
  desk_->DoCarry({frame(2), Carry::To::kSelection, {frame(30), frame(31)}, {}});
  EXPECT_EQ(desk_->TouchOf(frame(31)), touch);
  const std::size_t steps = desk_->book()->history.size();
  desk_->Untouch({frame(31), frame(12)});
  EXPECT_EQ(desk_->TouchOf(frame(31)), record::Handles{});
  EXPECT_EQ(desk_->TouchOf(frame(30)), touch);
  EXPECT_EQ(desk_->book()->history.size(), steps + 1);
  desk_->Untouch({frame(31)});
  EXPECT_EQ(desk_->book()->history.size(), steps + 1) << "nothing was left to take away";
}

TEST_F(DeskTest, ManyFramesAreJudgedBesideTheCaller) {
  InventedOptions options;
  options.frames_per_scan = 1;
  options.frames_per_light = 20;
  Make(options);
  ASSERT_EQ(row(10).state, FrameState::kSettled);
  desk_->Touch(frame(5), Exposure(1));  // far too light
  desk_->DoCarry({frame(5), Carry::To::kLight, {}, {}});
  EXPECT_EQ(desk_->TouchOf(frame(10)).exposure_ev, 1) << "said at once";
  const std::vector<Event> events = Hear();
  EXPECT_GT(row(10).worst, 2.5) << "what is left against the scan is measured again";
  EXPECT_EQ(row(10).state, FrameState::kSettled)
      << "a touch moves the aim: tolerance is not judged against the scan";
  EXPECT_EQ(row(25).state, FrameState::kUnpaired) << "the last light has no film";
  bool told = false;
  for (const Event& e : events)
    if (const auto* changed = std::get_if<FramesChanged>(&e)) told = told || changed->frames.size() >= 19;
  EXPECT_TRUE(told);
  desk_->Undo();
  Hear();
  EXPECT_EQ(row(10).state, FrameState::kSettled);
}

TEST_F(DeskTest, FollowHoldsForFrameLightAndSession) {
  Make();
  desk_->SetFollow(80, {}, std::nullopt);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(20))->follow, 0.8);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(20))->follow_skin, 0.8) << "skin goes no further than the rest";
  desk_->SetFollow(50, {frame(20)}, std::nullopt);
  desk_->SetFollow(40, {frame(21)}, record::RegionKind::kSkin);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(20))->follow, 0.5);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(21))->follow, 0.8);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(21))->follow_skin, 0.4);
  desk_->SetFollow(30, {frame(20)}, record::RegionKind::kFoliage);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(20))->follow_foliage, 0.3);
  EXPECT_LT(desk_->CorrectionOf(frame(21))->follow_foliage, 0) << "with the whole";
  desk_->SetFollow(30, {frame(20)}, record::RegionKind::kNeutral);
  EXPECT_EQ(desk_->book()->history.size(), 4u) << "neutrals have no share of their own";
  desk_->SetFollow(130, {frame(22)}, std::nullopt);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(22))->follow, 0.8) << "out of range: nothing is said";
}

TEST_F(DeskTest, APersonSettlesAndKeepsStates) {
  Make();
  desk_->Settle({frame(0)}, true);
  EXPECT_EQ(row(0).state, FrameState::kSettled);
  EXPECT_TRUE(row(0).by_person);
  EXPECT_FALSE(row(0).reasons.empty()) << "what spoke against it is still told";
  desk_->Settle({frame(6)}, false);
  EXPECT_EQ(row(6).state, FrameState::kToCheck);
  desk_->Touch(frame(0), Exposure(0.3));
  desk_->KeepState(frame(0), "lighter");
  desk_->Touch(frame(0), Exposure(-0.3));
  desk_->KeepState(frame(0), "darker");
  Open();
  ASSERT_THAT(desk_->States(frame(0)), SizeIs(2));
  desk_->SetFollow(60, {frame(0)}, std::nullopt);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOfState(frame(0), "darker")->touch.exposure_ev, -0.3);
  EXPECT_DOUBLE_EQ(desk_->CorrectionOfState(frame(0), "darker")->follow, 1) << "as it was when it was kept";
  EXPECT_FALSE(desk_->CorrectionOfState(frame(0), "other").has_value());
  desk_->TakeUpState(frame(0), "lighter");
  EXPECT_DOUBLE_EQ(desk_->CorrectionOf(frame(0))->follow, 1);
  EXPECT_DOUBLE_EQ(desk_->TouchOf(frame(0)).exposure_ev, 0.3);
  desk_->DropState(frame(0), "darker");
  EXPECT_THAT(desk_->States(frame(0)), SizeIs(1));
}

TEST_F(DeskTest, PairsByHandStandAtOnceAndCanBeTakenBack) {
  Make();
  desk_->Join(scan(1), frame(35));
  EXPECT_EQ(row(35).scan, scan(1));
  EXPECT_FALSE(row(5).scan.valid());
  EXPECT_TRUE(desk_->book()->Scan(scan(1))->pair.by_person);
  EXPECT_TRUE(row(36).filmed) << "a scan is in its light now";
  EXPECT_TRUE(desk_->book()->stale);
  desk_->Refuse(scan(0), {frame(0)});
  EXPECT_EQ(desk_->book()->Scan(scan(0))->pair.kind, record::PairKind::kNone);
  EXPECT_EQ(desk_->book()->loose_scans, 1);
  desk_->Bar(scan(2), true);
  EXPECT_TRUE(desk_->book()->Scan(scan(2))->barred);
  desk_->Undo();
  desk_->Undo();
  desk_->Undo();
  Hear();
  EXPECT_EQ(row(5).scan, scan(1));
  EXPECT_EQ(row(0).scan, scan(0));
  EXPECT_FALSE(desk_->book()->Scan(scan(2))->barred);
}

TEST_F(DeskTest, LightsAreSplitJoinedAndNamed) {
  Make();
  desk_->SplitLight(frame(4));
  ASSERT_THAT(desk_->book()->lights, SizeIs(5));
  EXPECT_EQ(row(3).light, 0);
  EXPECT_EQ(row(4).light, 1);
  EXPECT_EQ(desk_->book()->Scan(scan(1))->light, 1) << "its frame is there";
  desk_->RenameLight(1, "the mill");
  EXPECT_EQ(desk_->book()->lights[1].name, "the mill");
  desk_->JoinLights(1, 2);
  EXPECT_THAT(desk_->book()->lights, SizeIs(4));
  EXPECT_EQ(row(19).light, 1);
  Open();
  EXPECT_THAT(desk_->book()->lights, SizeIs(4));
  EXPECT_EQ(desk_->book()->lights[1].name, "the mill");
  desk_->Undo();
  desk_->Undo();
  desk_->Undo();
  Hear();
  EXPECT_THAT(desk_->book()->lights, SizeIs(4));
  EXPECT_EQ(row(4).light, 0);
  EXPECT_EQ(desk_->book()->lights[1].name, "light 2");
}

TEST_F(DeskTest, RollsAndSettings) {
  Make();
  ASSERT_TRUE(desk_->SetRoll(0, "name", "the garden").ok());
  EXPECT_EQ(desk_->book()->rolls[0].name, "the garden");
  EXPECT_EQ(desk_->SetRoll(0, "push", "9").error().code, ErrorCode::kInvalidArgument);
  EXPECT_EQ(desk_->SetRoll(3, "name", "x").error().code, ErrorCode::kNotFound);
  ASSERT_TRUE(desk_->SetSetting("tolerance", 8).ok());
  EXPECT_EQ(desk_->book()->tolerance, 8);
  EXPECT_FALSE(desk_->SetSetting("tolerance", -1).ok());
  desk_->Undo();
  desk_->Undo();
  Hear();
  EXPECT_EQ(desk_->book()->rolls[0].name, "roll 1");
}

TEST_F(DeskTest, RollsAreSplitAndJoinedClocksSetAndNoneOfTheOfferedIsAnAnswer) {
  Make();
  const auto standing = [this] { return desk_->book()->standing; };
  desk_->SplitRoll(scan(0));
  EXPECT_TRUE(standing().roll_facts.empty()) << "it is the first of its roll";
  desk_->SplitRoll(scan(3));
  EXPECT_THAT(standing().roll_facts, SizeIs(1));
  desk_->JoinRolls(0, 0);
  desk_->JoinRolls(0, 7);
  EXPECT_THAT(standing().roll_facts, SizeIs(1)) << "there is no such roll";
  ASSERT_TRUE(desk_->SetClock("body A", -3600).ok());
  EXPECT_EQ(standing().clock_offset_s.at("body A"), -3600);
  EXPECT_EQ(desk_->SetClock("body A", std::numeric_limits<double>::quiet_NaN()).error().code,
            ErrorCode::kInvalidArgument);
  const std::size_t steps = desk_->book()->history.size();
  desk_->Refuse(scan(0), {frame(0), frame(1)});
  EXPECT_THAT(desk_->book()->history, SizeIs(steps + 1)) << "one step";
  EXPECT_EQ(desk_->book()->Scan(scan(0))->pair.kind, record::PairKind::kNone);
  EXPECT_TRUE(desk_->book()->Scan(scan(0))->pair.by_person);
  EXPECT_FALSE(desk_->TakeLook({"no such look", "/nonexistent"}).ok());
  EXPECT_TRUE(desk_->TakeLook({"none", {}}).ok());
  EXPECT_THAT(desk_->book()->history, SizeIs(steps + 1)) << "it began from there anyway";
}

TEST_F(DeskTest, AFrameThatLiesApartFromItsLightIsToldWithoutAScan) {
  Make();
  const std::vector<PhotoId> light(desk_->book()->lights[1].frames);
  ASSERT_THAT(light, SizeIs(10));
  for (const double apart : desk_->Apart(light)) EXPECT_LT(apart, 1e-6) << "all show the same";
  desk_->Touch(light[4], Exposure(0.7));
  const std::vector<double> apart = desk_->Apart(light);
  for (std::size_t i = 0; i < apart.size(); ++i)
    if (i == 4)
      EXPECT_GT(apart[i], 1);
    else
      EXPECT_LT(apart[i], 1);
  EXPECT_THAT(desk_->Apart({light[4], light[5]}), testing::Each(0)) << "two tell nothing of each other";
}

TEST_F(DeskTest, HandlesSayWhereTheyComeFrom) {
  Make();
  desk_->Touch(frame(1), Exposure(0.2));
  const std::vector<HandleValue> handles = desk_->Handles(frame(1));
  ASSERT_EQ(handles.size(), record::AllHandles().size());
  const HandleValue &exposure = handles[0], &warmth = handles[1], &gamma = handles[3];
  EXPECT_EQ(exposure.origin, Origin::kTouched);
  EXPECT_NEAR(exposure.value, exposure.solved + 0.2, 1e-9);
  EXPECT_NEAR(exposure.of_light, exposure.solved, 1e-9) << "of ten frames one is touched";
  EXPECT_EQ(warmth.origin, Origin::kLight);
  EXPECT_EQ(warmth.sigma, 3);
  EXPECT_EQ(gamma.origin, Origin::kRoll);
  EXPECT_FALSE(gamma.sigma.has_value());
  EXPECT_EQ(desk_->Handles(frame(39))[1].origin, Origin::kCarried);
}

TEST_F(DeskTest, RegionsOfAPairAndOfAFrameAlone) {
  Make();
  const std::vector<RegionRow> paired = desk_->Regions(frame(5), *desk_->CorrectionOf(frame(5)));
  ASSERT_THAT(paired, SizeIs(8));
  EXPECT_EQ(paired[0].name, "face 1");
  for (const RegionRow& r : paired) {
    EXPECT_TRUE(r.has_scan) << r.name;
    EXPECT_LT(r.now, 0.2) << r.name << ": the correction is the film";
    EXPECT_GT(r.before, r.now) << r.name;
    EXPECT_NEAR(r.now, color::Ciede2000(r.lab_frame, r.lab_scan), 1e-9);
  }
  const std::vector<RegionRow> alone = desk_->Regions(frame(6), *desk_->CorrectionOf(frame(6)));
  ASSERT_THAT(alone, SizeIs(8));
  EXPECT_FALSE(alone[0].has_scan);
  EXPECT_TRUE(std::isnan(alone[0].now));
  // The same scene and the same film: what is measured alone agrees with what is matched.
  EXPECT_NEAR(alone[0].lab_frame[1], paired[0].lab_frame[1], 1.5);
}

TEST_F(DeskTest, ADotIsMovedWhereItIsPulled) {
  Make();
  const auto regions = desk_->Regions(frame(5), *desk_->CorrectionOf(frame(5)));
  const RegionRow& skin = regions[0];
  const double a = skin.lab_frame[1] - 3, b = skin.lab_frame[2] + 2;
  const auto move = desk_->MoveDot(frame(5), {}, skin, a, b);
  ASSERT_TRUE(move.has_value());
  EXPECT_LE(move->moved.size(), 2u);
  const auto then = desk_->Regions(frame(5), *desk_->CorrectionWith(frame(5), move->touch));
  EXPECT_NEAR(then[0].lab_frame[1], a, 0.3);
  EXPECT_NEAR(then[0].lab_frame[2], b, 0.3);
  EXPECT_LT(then[4].now, 1.0) << "neutrals were right and stay so";
  EXPECT_EQ(desk_->TouchOf(frame(5)), record::Handles{}) << "nothing was said";
}

TEST_F(DeskTest, ToneCurvesFallFromBlackToWhite) {
  Make();
  const ToneCurves tone = desk_->Tone(frame(5), *desk_->CorrectionOf(frame(5)));
  ASSERT_EQ(tone.frame.size(), tone.ev.size());
  ASSERT_EQ(tone.scan.size(), tone.ev.size());
  EXPECT_TRUE(tone.scan_measured);
  int compared = 0;
  for (std::size_t i = 0; i < tone.ev.size(); ++i) {
    if (i > 0) EXPECT_LE(tone.frame[i], tone.frame[i - 1] + 1e-9);
    if (std::isnan(tone.scan[i]) || tone.scan[i] > 2) continue;
    ++compared;
    EXPECT_NEAR(tone.scan[i], tone.frame[i], 0.15) << tone.ev[i] << " EV";
  }
  EXPECT_GT(compared, 20);
  ASSERT_THAT(tone.grips, SizeIs(3));
  EXPECT_LT(tone.grips[0].ev, tone.grips[1].ev);
  EXPECT_LT(tone.grips[1].ev, tone.grips[2].ev);
}

TEST_F(DeskTest, APairIsTriedBeforeItIsMade) {
  Make();
  const Desk::PairTrial same = desk_->TryPair(scan(0), frame(6));
  ASSERT_TRUE(same.skin_then.has_value());
  EXPECT_LT(*same.skin_then, 1.0) << "the same film and the same skin";
  ASSERT_TRUE(same.skin_now.has_value());
  EXPECT_GT(*same.skin_now, *same.skin_then) << "frame 0 is solved too dark";
}

TEST_F(DeskTest, WhatIsUnknownIsIgnored) {
  Make();
  const PhotoId none{9999};
  desk_->Touch(none, Exposure(1));
  desk_->Join(none, none);
  desk_->SetFollow(50, {none}, std::nullopt);
  desk_->DoCarry({none, Carry::To::kLight, {}, {}});
  desk_->SplitLight(none);
  desk_->JoinLights(0, 17);
  desk_->RenameLight(-1, "x");
  EXPECT_FALSE(desk_->CanUndo());
  EXPECT_TRUE(desk_->Handles(none).empty());
  EXPECT_FALSE(desk_->CorrectionOf(none).has_value());
}

// The whole job on files: two folders in, pairs and corrections, files out, stopped in between.
TEST_F(DeskTest, JobsRunBesideThePersonAndStop) {
  simulate::SessionOptions options;
  options.frame_long_side_px = 480;
  options.lights = 2;
  options.frames = 8;
  options.scans = 4;
  options.painted = true;
  SilentProgress silent;
  ASSERT_TRUE(simulate::WriteSession(folder_ / "day", options, silent, {}).ok());
  auto desk = Desk::Open(
      folder_ / "day.samelight", [this] { ++rung_; }, session::Access::kCreate);
  ASSERT_TRUE(desk.ok());
  desk_ = std::move(*desk);
  ASSERT_TRUE(desk_->StartAdd({folder_ / "day" / "film"}, {folder_ / "day" / "digital"}));
  EXPECT_FALSE(desk_->StartUpdate()) << "one at a time";
  ASSERT_TRUE(desk_->job().has_value());
  desk_->Wait();
  std::vector<Event> events = Hear();
  const auto end = [&] {
    for (const Event& e : events)
      if (const auto* ended = std::get_if<JobEnded>(&e)) return *ended;
    return JobEnded{};
  };
  ASSERT_TRUE(end().status.ok()) << end().status.error().Text();
  EXPECT_THAT(end().told, Contains(HasSubstr("4 scans and 8 frames")));
  EXPECT_FALSE(desk_->job().has_value());
  ASSERT_THAT(desk_->book()->frames, SizeIs(8));
  EXPECT_TRUE(desk_->book()->matched);
  EXPECT_FALSE(desk_->book()->stale);
  EXPECT_TRUE(desk_->book()->frames[0].solved);

  // A touch while nothing else changed is no new fit; what is delivered holds it.
  const PhotoId first = desk_->book()->frames[0].photo.id;
  desk_->Touch(first, Exposure(0.4));
  EXPECT_FALSE(desk_->book()->stale);
  ASSERT_TRUE(desk_->StartDeliver(folder_ / "out", {}));
  desk_->CancelJob();
  desk_->Wait();
  events = Hear();
  EXPECT_EQ(end().status.error().code, ErrorCode::kCancelled);
  DeliverOptions two;
  two.only = {first, desk_->book()->frames[3].photo.id};
  ASSERT_TRUE(desk_->StartDeliver(folder_ / "some", two));
  desk_->Wait();
  events = Hear();
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_ / "some"), fs::directory_iterator()), 2 + 2)
      << "two frames and the reports";
  ASSERT_TRUE(desk_->StartDeliver(folder_ / "out", {}));
  desk_->Wait();
  events = Hear();
  ASSERT_TRUE(end().status.ok()) << end().status.error().Text();
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_ / "out"), fs::directory_iterator()), 8 + 2);
  EXPECT_TRUE(desk_->book()->Frame(first)->delivered);
  EXPECT_EQ(desk_->book()->Frame(first)->solution.correction.touch.exposure_ev, 0.4);
  ASSERT_TRUE(desk_->StartProofSheet(folder_ / "proofs"));
  desk_->Wait();
  events = Hear();
  ASSERT_TRUE(end().status.ok()) << end().status.error().Text();
  EXPECT_GT(fs::file_size(end().made), 20'000u) << "eight pictures are in it";
  // What is settled here is settled for the command line too.
  desk_->Settle({first}, false);
  Hear();
  const auto check = Check(folder_ / "day.samelight");
  ASSERT_TRUE(check.ok());
  EXPECT_THAT(check->to_check,
              Contains(testing::Field(&CheckAnswer::Frame::name, desk_->book()->Frame(first)->name)));
}

TEST(RecentTest, NewestFirstWithoutThoseThatAreGone) {
  const fs::path folder = fs::temp_directory_path() / ("samelight-recent-" + std::to_string(::getpid()));
  fs::create_directories(folder);
  const fs::path list = folder / "state" / "recent";
  EXPECT_TRUE(ReadRecent(list).empty());
  for (const char* name : {"a.samelight", "b.samelight", "c.samelight"}) {
    std::ofstream(folder / name) << "x";
    ASSERT_TRUE(AddRecent(list, folder / name).ok());
  }
  ASSERT_TRUE(AddRecent(list, folder / "a.samelight").ok());
  fs::remove(folder / "b.samelight");
  const auto recent = ReadRecent(list);
  ASSERT_EQ(recent.size(), 2u);
  EXPECT_EQ(recent[0].filename(), "a.samelight");
  EXPECT_EQ(recent[1].filename(), "c.samelight");
  fs::remove_all(folder);
}

}  // namespace
}  // namespace samelight::job
