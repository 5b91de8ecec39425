// The models on a real session: Qt's own tester watches them while they change.
#include <gtest/gtest.h>
#include <QtTest/QAbstractItemModelTester>

#include "window/model/looks.h"
#include "window/model/loom_book.h"
#include "window/model/orders.h"
#include "window/view/testing.h"

namespace samelight::window {
namespace {

TEST(ModelsTest, HoldWhatQtAsksOfModelsWhileASessionChanges) {
  App();
  const std::filesystem::path file = MatchedSession();
  DeskLink link;
  Hand hand(&link);
  Worklist worklist(&link);
  Problems problems(&link);
  Sheet sheet(&link, &hand);
  QAbstractItemModelTester a(&worklist, QAbstractItemModelTester::FailureReportingMode::Fatal);
  QAbstractItemModelTester b(&problems, QAbstractItemModelTester::FailureReportingMode::Fatal);
  QAbstractItemModelTester c(&sheet, QAbstractItemModelTester::FailureReportingMode::Fatal);
  Orders orders(&link);
  Looks looks;
  QAbstractItemModelTester d(&orders, QAbstractItemModelTester::FailureReportingMode::Fatal);
  QAbstractItemModelTester e(&looks, QAbstractItemModelTester::FailureReportingMode::Fatal);
  ASSERT_TRUE(OpenNow(link, file));
  const auto book = [&] { return link.book(); };
  WorklistFilter all;
  all.which = WorklistFilter::Which::kAll;
  worklist.SetFilter(all);
  EXPECT_EQ(worklist.rowCount(), static_cast<int>(book()->frames.size()));
  sheet.ShowLight(0);
  EXPECT_GT(sheet.rowCount(), 0);
  const PhotoId first = book()->frames[0].photo.id;
  EXPECT_EQ(worklist.Next(first), book()->frames[1].photo.id);
  EXPECT_EQ(worklist.Previous(first), book()->frames.back().photo.id) << "round the end";
  all.light = 0;
  worklist.SetFilter(all);
  EXPECT_EQ(worklist.rowCount(), sheet.rowCount());
  all.light.reset();
  all.source = worklist.Sources().first();
  worklist.SetFilter(all);
  EXPECT_GT(worklist.rowCount(), 0);
  link.desk()->Settle({first}, false);
  EXPECT_TRUE(
      QTest::qWaitFor([&] { return book()->Frame(first)->state == job::FrameState::kToCheck; }, 4000));
  WorklistFilter check;
  worklist.SetFilter(check);
  EXPECT_EQ(worklist.rowCount(), book()->to_check);
  ASSERT_TRUE(link.desk()->KeepOrder("album", {{"format", "png"}}).ok());
  ASSERT_TRUE(QTest::qWaitFor([&] { return orders.rowCount() == 1; }, 4000));
  EXPECT_EQ(orders.index(0).data(Orders::kName).toString(), QStringLiteral("album"));
  EXPECT_EQ(orders.RowOf(QStringLiteral("album")), 0);
  EXPECT_EQ(orders.RowOf(QStringLiteral("print")), -1);
  link.desk()->DropOrder("album");
  ASSERT_TRUE(QTest::qWaitFor([&] { return orders.rowCount() == 0; }, 4000));
  ASSERT_TRUE(QTest::qWaitFor([&] { return looks.read(); }, 4000));
  link.desk()->Undo();
  link.desk()->Wait();
  link.Close();
  EXPECT_EQ(worklist.rowCount(), 0);
  EXPECT_EQ(sheet.rowCount(), 0);
}

TEST(ModelsTest, TheLoomHoldsEveryPictureOnceAndTiesWhatIsPaired) {
  App();
  DeskLink link;
  ASSERT_TRUE(OpenNow(link, MatchedSession()));
  const Loom loom = LoomOfBook(*link.book());
  EXPECT_EQ(loom.frames.size(), link.book()->frames.size());
  EXPECT_EQ(loom.scans.size(), link.book()->scans.size());
  int paired = 0;
  for (const job::ScanRow& scan : link.book()->scans) paired += scan.pair.kind != record::PairKind::kNone;
  EXPECT_EQ(static_cast<int>(loom.ribbons.size()), paired);
  for (const LoomRibbon& ribbon : loom.ribbons)
    EXPECT_EQ(link.book()->Scan(loom.scans[ribbon.scan].id)->pair.frame, loom.frames[ribbon.frame].id);
}

TEST(ModelsTest, WordsForTimeAndWarmth) {
  EXPECT_EQ(WarmthText(1e6 / 5600), "5600 K");
  EXPECT_EQ(WarmthText(1e6 / 5583), "5600 K") << "rounded to 50 K";
  EXPECT_EQ(WarmthText(0), "");
  EXPECT_EQ(ClockText(49267000000), "13:41:07");
  EXPECT_EQ(ClockText(INT64_MAX), "");
  using record::FlagKind;
  EXPECT_EQ(
      ReasonKind({FlagKind::kLeftOver, "skin is a little redder than in its scan by 2.8", "skin is redder"}),
      "skin is redder");
  EXPECT_EQ(ReasonKind({FlagKind::kOther, "the pair is doubtful", ""}), "the pair is doubtful");
}

}  // namespace
}  // namespace samelight::window
