// The instruments' models over a real desk on an invented session, without a display.
#include "window/model/instruments.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <QtCore/QCoreApplication>
#include <QtCore/QDeadlineTimer>
#include <QtCore/QPointF>
#include <QtTest/QAbstractItemModelTester>
#include <QtTest/QSignalSpy>
#include <QtTest/QTest>
#include <cmath>
#include <filesystem>

#include "job/desk_testing.h"
#include "window/model/follow_model.h"
#include "window/model/hand.h"
#include "window/model/handle_model.h"
#include "window/model/left_over_model.h"
#include "window/model/plane_model.h"

namespace samelight::window {
namespace {

namespace fs = std::filesystem;
using Mode = QAbstractItemModelTester::FailureReportingMode;

class InstrumentsTest : public testing::Test {
 protected:
  void SetUp() override {
    static int argc = 1;
    static char name[] = "instruments_test";
    static char* argv[] = {name, nullptr};
    if (QCoreApplication::instance() == nullptr) app_ = std::make_unique<QCoreApplication>(argc, argv);
    folder_ = fs::temp_directory_path() / ("samelight-instruments-" + std::to_string(::getpid()) + "-" +
                                           testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
    made_ = std::make_unique<job::InventedSession>(folder_, job::InventedOptions{});
    ASSERT_TRUE(made_->ok());
    link_ = std::make_unique<DeskLink>();
    instruments_ = std::make_unique<Instruments>(link_.get());
    Open();
    Settle();
  }
  void TearDown() override {
    instruments_.reset();
    link_.reset();
    fs::remove_all(folder_);
  }
  void Open() {
    link_->OpenSoon(made_->file());
    ASSERT_TRUE(QTest::qWaitFor([this] { return link_->desk() != nullptr; }, 5000));
  }
  // Until the background has nothing more to say.
  void Settle() {
    link_->desk()->Wait();
    QCoreApplication::processEvents();
    link_->desk()->Wait();
    QCoreApplication::processEvents();
  }
  PhotoId frame(std::size_t i) const { return made_->frames()[i]; }

  std::unique_ptr<QCoreApplication> app_;
  fs::path folder_;
  std::unique_ptr<job::InventedSession> made_;
  std::unique_ptr<DeskLink> link_;
  std::unique_ptr<Instruments> instruments_;
};

int RowOf(const HandleModel& model, record::Handle handle) {
  for (int i = 0; i < model.rowCount(); ++i)
    if (model.handle(i) == handle) return i;
  return -1;
}

TEST_F(InstrumentsTest, EveryModelHoldsToItsContractThroughADay) {
  PlaneModel plane(instruments_.get());
  LeftOverModel table(instruments_.get());
  HandleModel handles(instruments_.get());
  FollowModel follow(link_.get(), instruments_.get());
  const QAbstractItemModelTester a(&plane, Mode::Fatal), b(&table, Mode::Fatal), c(&handles, Mode::Fatal),
      d(&follow, Mode::Fatal);
  EXPECT_EQ(plane.rowCount(), 0) << "no frame in hand";
  instruments_->SetFrame(frame(0));
  EXPECT_EQ(plane.rowCount(), 8);
  EXPECT_EQ(handles.rowCount(), static_cast<int>(record::AllHandles().size()));
  instruments_->SetFrame(frame(6));
  record::Handles touch;
  touch.exposure_ev = 0.5;
  instruments_->Try(touch);
  instruments_->Keep();
  Settle();
  link_->desk()->Undo();
  Settle();
  instruments_->SetFrame({});
  EXPECT_EQ(handles.rowCount(), 0);
  link_->Close();
  EXPECT_EQ(table.rowCount(), 0);
}

TEST_F(InstrumentsTest, TheTableNamesWhatIsOverTheMark) {
  LeftOverModel table(instruments_.get());
  instruments_->SetFrame(frame(0));  // solved half a stop too dark
  ASSERT_GT(table.rowCount(), 0);
  EXPECT_EQ(table.data(table.index(0, LeftOverModel::kRegion)).toString(), "face 1");
  EXPECT_EQ(table.data(table.index(0, LeftOverModel::kWords)).toString(), "darker");
  EXPECT_TRUE(table.data(table.index(0, 0), LeftOverModel::kOverMark).toBool());
  EXPECT_EQ(table.data(table.index(0, 0), LeftOverModel::kToleranceValue).toDouble(), 2.5);
  record::Handles touch;
  touch.exposure_ev = 0.5;
  instruments_->Try(touch);
  EXPECT_FALSE(table.data(table.index(0, 0), LeftOverModel::kOverMark).toBool())
      << "already while it is dragged";
  instruments_->GiveUp();
  EXPECT_TRUE(table.data(table.index(0, 0), LeftOverModel::kOverMark).toBool());
  EXPECT_FALSE(link_->desk()->CanUndo()) << "nothing was said";
  EXPECT_EQ(table.data(table.index(99, 0)), QVariant());
  instruments_->SetFrame(frame(6));  // no scan
  EXPECT_EQ(table.data(table.index(0, LeftOverModel::kNow)).toString(), QStringLiteral("\u2013"));
}

TEST_F(InstrumentsTest, FieldsUnderstandWhatIsTyped) {
  HandleModel handles(instruments_.get());
  instruments_->SetFrame(frame(5));
  const int exposure = RowOf(handles, record::Handle::kExposure),
            chroma = RowOf(handles, record::Handle::kChroma);
  const QModelIndex field = handles.index(exposure, HandleModel::kValue);
  const double solved = handles.data(field, HandleModel::kSolved).toDouble();
  EXPECT_TRUE(handles.flags(field) & Qt::ItemIsEditable);
  EXPECT_TRUE(handles.setData(field, QStringLiteral("+0,3 EV")));
  EXPECT_NEAR(handles.data(field, HandleModel::kNumber).toDouble(), solved + 0.3, 1e-9);
  EXPECT_TRUE(handles.setData(field, QStringLiteral("-0.1")));
  EXPECT_NEAR(handles.data(field, HandleModel::kNumber).toDouble(), solved + 0.2, 1e-9);
  EXPECT_TRUE(handles.setData(field, QStringLiteral("=\u22120.5")));
  EXPECT_NEAR(handles.data(field, HandleModel::kNumber).toDouble(), -0.5, 1e-9);
  EXPECT_TRUE(handles.setData(field, QStringLiteral("0.25")));
  EXPECT_NEAR(handles.data(field, HandleModel::kNumber).toDouble(), 0.25, 1e-9);
  for (const char* wrong : {"", "bright", "0.3.4", "1e999", "+"})
    EXPECT_FALSE(handles.setData(field, QString::fromUtf8(wrong))) << wrong;
  EXPECT_NEAR(handles.data(field, HandleModel::kNumber).toDouble(), 0.25, 1e-9);
  EXPECT_TRUE(handles.setData(field, 99.0));
  EXPECT_NEAR(handles.data(field, HandleModel::kNumber).toDouble(), solved + 4, 1e-9)
      << "clamped to its range";
  EXPECT_EQ(handles.data(handles.index(exposure, HandleModel::kOrigin)).toString(), "touched");
  EXPECT_TRUE(handles.data(field, HandleModel::kTouched).toBool());
  handles.Reset(exposure, HandleModel::To::kSolved);
  EXPECT_FALSE(handles.data(field, HandleModel::kTouched).toBool());
  EXPECT_EQ(handles.data(handles.index(exposure, HandleModel::kOrigin)).toString(), "solved");
  handles.TryStep(chroma, 3);
  EXPECT_NEAR(instruments_->touch().chroma, 0.03, 1e-9);
  instruments_->Keep();
  handles.Reset(chroma, HandleModel::To::kNothing);
  EXPECT_NEAR(handles.data(handles.index(chroma, HandleModel::kValue), HandleModel::kNumber).toDouble(), 0,
              1e-9);
  // Each edit was one step: five by hand that changed something, two resets, one drag.
  Settle();
  EXPECT_EQ(link_->book()->history.size(), 8u);
}

TEST_F(InstrumentsTest, ADotIsDraggedAndTheWayBackIsTheWayThere) {
  PlaneModel plane(instruments_.get());
  instruments_->SetFrame(frame(5));
  const QPointF was = plane.data(plane.index(0), PlaneModel::kFrameDot).toPointF();
  EXPECT_TRUE(plane.data(plane.index(0), PlaneModel::kScanDot).isValid());
  std::vector<record::Handle> moved;
  for (int i = 1; i <= 5; ++i) moved = instruments_->TryDot(0, was.x() - i, was.y() + 0.5 * i);
  EXPECT_FALSE(moved.empty());
  QPointF now = plane.data(plane.index(0), PlaneModel::kFrameDot).toPointF();
  EXPECT_NEAR(now.x(), was.x() - 5, 0.4);
  EXPECT_NEAR(now.y(), was.y() + 2.5, 0.4);
  instruments_->TryDot(0, was.x(), was.y());
  for (const job::HandleValue& value : instruments_->handles())
    EXPECT_EQ(value.origin == job::Origin::kTouched, value.touch != 0)
        << "on the way back nothing stays touched";
  now = plane.data(plane.index(0), PlaneModel::kFrameDot).toPointF();
  EXPECT_NEAR(now.x(), was.x(), 0.4);
  instruments_->TryDot(0, was.x() - 2, was.y());
  instruments_->Keep();
  Settle();
  EXPECT_NE(link_->desk()->TouchOf(frame(5)), record::Handles{});
  EXPECT_EQ(link_->book()->history.size(), 1u);
}

TEST_F(InstrumentsTest, FollowIsTriedAndKeptForAFrameALightOrAll) {
  FollowModel follow(link_.get(), instruments_.get());
  instruments_->SetFrame(frame(5));
  ASSERT_EQ(follow.rowCount(), 1 + static_cast<int>(job::FollowRegions().size()));
  EXPECT_EQ(follow.data(follow.index(0), FollowModel::kPercent).toDouble(), 100);
  follow.Try(0, 60);
  EXPECT_DOUBLE_EQ(instruments_->correction()->follow, 0.6);
  EXPECT_DOUBLE_EQ(instruments_->correction()->follow_skin, 0.6) << "skin goes with the whole";
  follow.Try(1, 40);
  EXPECT_TRUE(follow.data(follow.index(1), FollowModel::kOwn).toBool());
  instruments_->GiveUp();
  EXPECT_DOUBLE_EQ(instruments_->correction()->follow, 1);
  follow.Keep(0, 70, FollowModel::kLight);
  EXPECT_DOUBLE_EQ(link_->desk()->CorrectionOf(frame(9))->follow, 0.7);
  EXPECT_DOUBLE_EQ(link_->desk()->CorrectionOf(frame(10))->follow, 1);
  follow.Keep(1, 50, FollowModel::kSession);
  EXPECT_DOUBLE_EQ(link_->desk()->CorrectionOf(frame(20))->follow_skin, 0.5);
  Settle();
  EXPECT_DOUBLE_EQ(follow.data(follow.index(0), FollowModel::kPercent).toDouble(), 70);
}

TEST_F(InstrumentsTest, WhatDoesNotBearOnTheFrameInHandIsNotTold) {
  instruments_->SetFrame(frame(5));
  Settle();
  QSignalSpy changed(instruments_.get(), &Instruments::changed);
  link_->desk()->Settle({frame(6)}, true);
  Settle();
  link_->desk()->Undo();
  Settle();
  EXPECT_EQ(changed.count(), 0);
  record::Handles touch;
  touch.exposure_ev = 0.5;
  link_->desk()->Touch(frame(5), touch);
  Settle();
  EXPECT_GE(changed.count(), 1);
}

TEST_F(InstrumentsTest, TheScanInHandStaysWhileItIsOneOfTheFrames) {
  Hand hand(link_.get());
  const PhotoId first = made_->scans()[0], second = made_->scans()[1];
  hand.TakeScan(first);
  const PhotoId frame = hand.frame();
  ASSERT_TRUE(frame.valid());
  link_->desk()->Join(second, frame);
  Settle();
  for (const PhotoId scan : {second, first}) {
    hand.TakeScan(scan);
    ASSERT_EQ(hand.frame(), frame);
    link_->desk()->Bar(made_->scans()[2], scan == second);  // the book is another
    Settle();
    EXPECT_EQ(hand.scan(), scan);
  }
  hand.TakeScan(second);
  link_->desk()->Refuse(second, {frame});
  Settle();
  EXPECT_EQ(hand.frame(), frame) << "the frame stays when its scan goes";
  EXPECT_EQ(hand.scan(), first);
}

TEST_F(InstrumentsTest, SessionsOpenAndCloseBesideTheInterface) {
  QSignalSpy opened(link_.get(), &DeskLink::opened), failed(link_.get(), &DeskLink::couldNotOpen);
  const auto until = [](const auto& done, int most_ms = 10'000) {
    for (QDeadlineTimer time(most_ms); !time.hasExpired() && !done();) QCoreApplication::processEvents();
    return done();
  };
  record::Handles touch;
  touch.exposure_ev = 0.5;
  link_->desk()->Touch(frame(1), touch);
  link_->OpenSoon(made_->file());  // the one that is open: written, closed, and opened again
  EXPECT_EQ(link_->desk(), nullptr);
  ASSERT_TRUE(until([&] { return link_->desk() != nullptr; }));
  EXPECT_EQ(link_->desk()->TouchOf(frame(1)).exposure_ev, 0.5);
  link_->OpenSoon(folder_ / "none.samelight");
  ASSERT_TRUE(until([&] { return failed.count() == 1; }));
  EXPECT_NE(link_->desk(), nullptr) << "what is open stays";
  link_->OpenSoon(made_->file());
  link_->Close();  // not wanted any more
  until([] { return false; }, 400);
  EXPECT_EQ(link_->desk(), nullptr);
  EXPECT_GE(opened.count(), 3);
  Open();  // waits for what is being closed
}

TEST_F(InstrumentsTest, NothingIsHeardAfterTheLinkIsGone) {
  QSignalSpy books(link_.get(), &DeskLink::bookChanged);
  link_->desk()->Join(made_->scans()[0], frame(7));
  Settle();
  EXPECT_GE(books.count(), 1);
  link_->desk()->Undo();
  instruments_.reset();
  link_.reset();  // with work in the background
  QCoreApplication::processEvents();
}

}  // namespace
}  // namespace samelight::window
