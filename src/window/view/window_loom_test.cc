// The loom by events: edges of lights, menus, alternatives, pairing by keys.
#include <sys/resource.h>

#include "window/view/alternatives.h"
#include "window/view/window_testing.h"

namespace samelight::window {
namespace {

class LoomWindowTest : public WindowTest {
 protected:
  LoomView* loom() { return window_->loom(); }
  int LightCount() { return static_cast<int>(book().lights.size()); }
  // Where the edge between a light and the next is taken, and where the frame `frame` would be its first.
  QPointF EdgeAt(int left) {
    return {loom()->LightBox(left + 1).left() - 1.5, loom()->LightBox(left).center().y()};
  }
  QPointF Before(int frame) { return {loom()->FrameBox(frame).left() + 1, EdgeAt(0).y()}; }
  // The window is shut; the session is written as if pairing had found so.
  bool MakeUndecided(PhotoId scan, const std::vector<PhotoId>& frames) {
    window_->close();
    window_.reset();
    auto session = session::Session::Open(MatchedSession(), session::Access::kWrite);
    if (!session.ok()) return false;
    auto pairs = (*session)->Pairs();
    auto change = (*session)->Begin();
    if (!pairs.ok() || !change.ok()) return false;
    for (record::Pair& pair : pairs->pairs)
      if (pair.scan == scan) {
        pair = {scan, {}, record::PairKind::kNone, 0.2};
        for (const PhotoId frame : frames)
          pair.alternatives.push_back({frame, record::PairKind::kMoment, 0.4});
      }
    return change->ReplacePairs(*pairs).ok() && change->Commit().ok();
  }
  void OpenAtRibbon() {
    Open();
    TakePaired();
    QTest::qWait(20);
  }
};

TEST_F(LoomWindowTest, AnEdgeIsDraggedToMoveASplitOrToJoin) {
  Open();
  ASSERT_EQ(LightCount(), 2);
  const std::size_t first = book().lights[0].frames.size();
  ASSERT_GE(first, 4u);
  const int steps = Standing();
  DragAndDrop(loom(), EdgeAt(0), Before(static_cast<int>(first) - 2));
  ASSERT_TRUE(Until([&] { return book().lights[0].frames.size() == first - 2; }));
  EXPECT_EQ(LightCount(), 2);
  EXPECT_EQ(Standing(), steps + 1) << "one gesture is one step";
  EXPECT_TRUE(book().stale) << "pairing has to hear of it";
  window_->easel_view()->setFocus();
  Key(Qt::Key_Z, Qt::ControlModifier);
  ASSERT_TRUE(Until([&] { return book().lights[0].frames.size() == first; }));
  // Across the whole light: both are one. Esc lets go before that.
  loom()->setFocus();
  const QPointF far(loom()->FrameBox(0).left() - 1, EdgeAt(0).y());
  Drag(loom(), EdgeAt(0), far);
  Key(Qt::Key_Escape);
  QTest::mouseRelease(loom(), Qt::LeftButton, Qt::NoModifier, far.toPoint());
  QTest::qWait(50);
  EXPECT_EQ(LightCount(), 2);
  DragAndDrop(loom(), EdgeAt(0), far);
  EXPECT_TRUE(Until([&] { return LightCount() == 1; }));
}

TEST_F(LoomWindowTest, ItsMenuNamesSplitsAndJoinsLights) {
  Open();
  const auto at_frame = [&](int frame) {
    return [this, frame] { MenuAt(loom(), loom()->FrameBox(frame).center()); };
  };
  Choose(at_frame(2), {QStringLiteral("A light begins at this frame")});
  ASSERT_TRUE(Until([&] { return LightCount() == 3; }));
  EXPECT_EQ(book().lights[0].frames.size(), 2u);
  Choose(at_frame(0), {QStringLiteral("One light with the next")});
  ASSERT_TRUE(Until([&] { return LightCount() == 2; }));
  WithMenu(at_frame(0), [&](QMenu* menu) {
    auto* name = menu->findChild<QLineEdit*>();
    ASSERT_TRUE(name);
    EXPECT_FALSE(name->accessibleName().isEmpty());
    name->selectAll();
    QTest::keyClicks(name, "garden");
    QTest::keyClick(name, Qt::Key_Return);
  });
  EXPECT_TRUE(Until([&] { return book().lights[0].name == "garden"; }));
  Choose(at_frame(0), {QStringLiteral("Walk only through this light")});
  EXPECT_EQ(window_->worklist().filter().light, 0);
}

TEST_F(LoomWindowTest, TheMenuOfAScanBarsItAndTellsOfItsRoll) {
  OpenAtRibbon();
  const PhotoId scan = window_->hand().scan();
  int at = -1;
  for (std::size_t i = 0; i < loom()->loom().scans.size(); ++i)
    if (loom()->loom().scans[i].id == scan) at = static_cast<int>(i);
  ASSERT_GE(at, 0);
  const auto open = [&] { MenuAt(loom(), loom()->ScanBox(at).center()); };
  Choose(open, {QStringLiteral("Keep this scan out of the look")});
  ASSERT_TRUE(Until([&] { return book().Scan(scan)->barred; }));
  Choose(open, {QStringLiteral("Let this scan into the look again")});
  ASSERT_TRUE(Until([&] { return !book().Scan(scan)->barred; }));
  Choose(open, {QStringLiteral("About roll")});
  auto* slip = qobject_cast<RollsSlip*>(window_->slip());
  ASSERT_TRUE(slip);
  const auto field = [&](const char* name) -> QLineEdit* {
    for (QLineEdit* edit : slip->findChildren<QLineEdit*>())
      if (edit->accessibleName().startsWith(QLatin1String(name))) return edit;
    ADD_FAILURE() << "no field " << name;
    return nullptr;
  };
  const auto roll = [&]() -> const record::Roll& { return book().rolls[book().Scan(scan)->roll]; };
  const auto type = [&](const char* name, const char* text) {
    field(name)->setFocus();
    field(name)->selectAll();
    Type(QString::fromLatin1(text));
    Key(Qt::Key_Tab);
  };
  type("Film stock", "Marigold 400");
  EXPECT_TRUE(Until([&] { return roll().stock == "Marigold 400"; }));
  type("Pushed", "1,5");
  EXPECT_TRUE(Until([&] { return roll().push_ev == 1.5; }));
  type("Pushed", "9");
  EXPECT_EQ(roll().push_ev, 1.5) << "beyond what a lab can do";
  EXPECT_EQ(field("Pushed")->text(), QStringLiteral("1.5"));
  type("Name", "the garden");
  EXPECT_TRUE(Until([&] { return roll().name == "the garden"; }));
}

TEST_F(LoomWindowTest, AnUndecidedScanIsSeenChosenForOrRefused) {
  OpenAtRibbon();
  const PhotoId scan = window_->hand().scan(), frame = window_->hand().frame();
  // As pairing leaves a scan that could belong to two frames.
  const PhotoId other = book().frames[book().FrameIndex(frame) > 0 ? 0 : 1].photo.id;
  ASSERT_TRUE(MakeUndecided(scan, {frame, other}));
  Reopen();
  ASSERT_TRUE(record::IsUndecided(book().Scan(scan)->pair));
  // Found by walking through what is unpaired, the undecided first.
  for (Count* count : window_->worklist_band()->findChildren<Count*>())
    if (count->accessibleName().endsWith(QLatin1String("unpaired"))) QTest::mouseClick(count, Qt::LeftButton);
  for (int i = 0; i < 12 && window_->hand().scan() != scan; ++i) Key(Qt::Key_PageDown);
  ASSERT_EQ(window_->hand().scan(), scan);
  EXPECT_FALSE(window_->hand().frame().valid());
  EXPECT_TRUE(window_->worklist().WordsOf(scan).reason.startsWith(QLatin1String("No frame is sure enough")));
  ASSERT_EQ(window_->easel().panes().size(), 3u) << "the scan beside the two that come nearest";
  EXPECT_EQ(window_->easel().panes()[1].photo, frame);
  window_->easel_view()->setFocus();
  Key(Qt::Key_A);
  auto* shown = qobject_cast<Alternatives*>(QApplication::activePopupWidget());
  ASSERT_TRUE(shown);
  QTest::keyClick(shown, Qt::Key_Delete);
  ASSERT_TRUE(Until([&] { return book().Scan(scan)->pair.by_person; })) << "none of these is an answer";
  EXPECT_FALSE(record::IsUndecided(book().Scan(scan)->pair));
  Key(Qt::Key_Z, Qt::ControlModifier);
  ASSERT_TRUE(Until([&] { return record::IsUndecided(book().Scan(scan)->pair); }));
  Key(Qt::Key_A);
  shown = qobject_cast<Alternatives*>(QApplication::activePopupWidget());
  ASSERT_TRUE(shown);
  QTest::keyClick(QApplication::focusWidget() ? QApplication::focusWidget() : shown, Qt::Key_Return);
  ASSERT_TRUE(Until([&] { return book().Scan(scan)->pair.kind == record::PairKind::kMoment; }));
  EXPECT_EQ(book().Scan(scan)->pair.frame, frame);
}

TEST_F(LoomWindowTest, AClickOnARibbonShowsWhatElseItCouldBeAndCuts) {
  OpenAtRibbon();
  const PhotoId scan = window_->hand().scan();
  int ribbon = -1;
  for (std::size_t i = 0; i < loom()->loom().ribbons.size(); ++i)
    if (loom()->loom().scans[loom()->loom().ribbons[i].scan].id == scan) ribbon = static_cast<int>(i);
  ASSERT_GE(ribbon, 0);
  const auto popup = [&]() -> Alternatives* {
    QTest::mouseClick(loom(), Qt::LeftButton, Qt::NoModifier,
                      RibbonPoint(loom()->EndsOf(ribbon), 0.5).toPoint());
    return qobject_cast<Alternatives*>(QApplication::activePopupWidget());
  };
  Alternatives* shown = popup();
  ASSERT_TRUE(shown);
  const QList<QAbstractButton*> choices = shown->findChildren<QAbstractButton*>();
  ASSERT_GE(choices.size(), 2) << "the frame that it is tied to, and the way to cut";
  for (const QAbstractButton* choice : choices) EXPECT_FALSE(choice->accessibleName().isEmpty());
  if (choices.size() > 2) {  // another frame to choose
    QTest::mouseClick(choices[1], Qt::LeftButton);
    ASSERT_TRUE(Until([&] { return book().Scan(scan)->pair.by_person; }));
    window_->easel_view()->setFocus();
    Key(Qt::Key_Z, Qt::ControlModifier);
    ASSERT_TRUE(Until([&] { return !book().Scan(scan)->pair.by_person; }));
    shown = popup();
    ASSERT_TRUE(shown);
  }
  QTest::keyClick(shown, Qt::Key_Delete);
  EXPECT_TRUE(Until([&] { return book().Scan(scan)->pair.kind == record::PairKind::kNone; }));
}

TEST_F(LoomWindowTest, PairsAreMadeAndCutByKeysAlone) {
  OpenAtRibbon();
  const PhotoId scan = window_->hand().scan(), frame = window_->hand().frame();
  window_->easel_view()->setFocus();
  loom()->FocusPart(LoomView::Part::kScans);
  Key(Qt::Key_Tab);
  ASSERT_EQ(loom()->part(), LoomView::Part::kRibbons);
  // Picked up, carried, let go with Esc: nothing is said.
  const int steps = Standing();
  Key(Qt::Key_Space);
  Key(Qt::Key_Right);
  Key(Qt::Key_Escape);
  EXPECT_EQ(Standing(), steps);
  Key(Qt::Key_Space);
  const bool last = book().FrameIndex(frame) + 1 == static_cast<int>(book().frames.size());
  Key(last ? Qt::Key_Left : Qt::Key_Right);
  Key(Qt::Key_Return);
  ASSERT_TRUE(Until([&] { return book().Scan(scan)->pair.by_person; }));
  EXPECT_NE(book().Scan(scan)->pair.frame, frame);
  QTest::qWait(50);  // the loom hears of it
  // Cut, it is as the program had found it; that cut too, there are two loose ends.
  loom()->FocusPart(LoomView::Part::kScans);
  Key(Qt::Key_Delete);
  ASSERT_TRUE(Until([&] { return !book().Scan(scan)->pair.by_person; }));
  EXPECT_EQ(book().Scan(scan)->pair.frame, frame);
  window_->hand().TakeScan(scan);
  QTest::qWait(50);
  Key(Qt::Key_Delete);
  ASSERT_TRUE(Until([&] { return book().Scan(scan)->pair.kind == record::PairKind::kNone; }));
  Key(Qt::Key_Z, Qt::ControlModifier);
  EXPECT_TRUE(Until([&] { return book().Scan(scan)->pair.frame == frame; }));
}

TEST_F(LoomWindowTest, FramesAreChosenByKeysAndByTheMouse) {
  Open();
  loom()->FocusPart(LoomView::Part::kFrames);
  Key(Qt::Key_Home);
  Key(Qt::Key_Right, Qt::ShiftModifier);
  Key(Qt::Key_Right, Qt::ShiftModifier);
  EXPECT_EQ(loom()->selection(), (std::set<int>{0, 1, 2}));
  Key(Qt::Key_Space);
  EXPECT_EQ(loom()->selection(), (std::set<int>{0, 1}));
  Key(Qt::Key_Escape);
  EXPECT_TRUE(loom()->selection().empty());
  const auto click = [&](int frame, Qt::KeyboardModifiers how) {
    QTest::mouseClick(loom(), Qt::LeftButton, how, loom()->FrameBox(frame).center().toPoint());
    QTest::qWait(10);
  };
  click(1, {});
  click(3, Qt::ShiftModifier);
  EXPECT_EQ(loom()->selection(), (std::set<int>{1, 2, 3}));
  click(2, Qt::ControlModifier);
  EXPECT_EQ(loom()->selection(), (std::set<int>{1, 3}));
  Key(Qt::Key_L);
  ASSERT_TRUE(window_->sheet_view()->isVisible());
  EXPECT_TRUE(window_->sheet_view()->CellBox(1).isValid());
}

// Qt hands translucent strokes to other threads and waits for them (paint.h): on a busy machine each wait
// costs milliseconds. getrusage(2): a voluntary context switch is a thread that waits.
TEST_F(LoomWindowTest, PaintingItWaitsForNoOtherThread) {
  Open();
  TakePaired();
  ASSERT_TRUE(Until([&] { return window_->HasThumbnails(); }));
  QTest::qWait(500);
  const auto waits = [] {
    rusage used{};
    getrusage(RUSAGE_THREAD, &used);
    return used.ru_nvcsw;
  };
  // What the frame under the pointer does not follow is dimmed: the widest strokes that were translucent
  // once.
  QMouseEvent over(QEvent::MouseMove, loom()->FrameBox(1).center(), loom()->mapToGlobal(QPointF(0, 0)),
                   Qt::NoButton, Qt::NoButton, Qt::NoModifier);
  QApplication::sendEvent(loom(), &over);
  QImage picture(loom()->size(), QImage::Format_RGB32);
  loom()->render(&picture);
  const long before = waits();
  constexpr int kTimes = 20;
  for (int i = 0; i < kTimes; ++i) loom()->render(&picture);
  EXPECT_LT(waits() - before, kTimes) << "less than one wait for a painting";
}

}  // namespace
}  // namespace samelight::window
