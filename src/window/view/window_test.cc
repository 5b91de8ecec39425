// The window by events a person makes, without a screen, on a small invented session.
#include "window/view/window_testing.h"

namespace samelight::window {
namespace {

namespace fs = std::filesystem;

TEST_F(WindowTest, BeginsWithAPlaceToDropFolders) {
  EXPECT_TRUE(window_->findChild<Welcome*>()->isVisible());
  EXPECT_FALSE(window_->loom()->isVisible());
  EXPECT_FALSE(OpenNow(window_->link(), "/nonexistent/x.samelight"));
}

TEST_F(WindowTest, AnOpenSessionHasItsPairInHandAndOnTheEasel) {
  Open();
  EXPECT_TRUE(window_->loom()->isVisible());
  EXPECT_EQ(window_->loom()->loom().frames.size(), book().frames.size());
  EXPECT_TRUE(window_->hand().frame().valid());
  EXPECT_TRUE(Until([&] {
    for (const Easel::Pane& pane : window_->easel().panes())
      if (pane.shown.empty()) return false;
    return !window_->easel().panes().empty();
  }));
  EXPECT_TRUE(Until([&] { return window_->HasThumbnails(); }));
}

TEST_F(WindowTest, PageDownWalksAndEnterSettles) {
  Open();
  window_->easel_view()->setFocus();
  if (book().to_check == 0) {
    window_->link().desk()->Settle({book().frames[0].photo.id, book().frames[1].photo.id}, false);
    ASSERT_TRUE(Until([&] { return book().to_check == 2; }));
  }
  Key(Qt::Key_PageDown);
  const int before = book().to_check;
  const job::FrameRow* row = book().Frame(window_->hand().frame());
  ASSERT_TRUE(row);
  EXPECT_EQ(row->state, job::FrameState::kToCheck);
  const PhotoId frame = row->photo.id;
  Key(Qt::Key_Return);
  EXPECT_TRUE(Until([&] { return book().to_check == before - 1; }));
  EXPECT_EQ(book().Frame(frame)->state, job::FrameState::kSettled);
  Key(Qt::Key_Z, Qt::ControlModifier);
  EXPECT_TRUE(Until([&] { return book().to_check == before; }));
}

TEST_F(WindowTest, ADraggedDotMovesHandlesAndIsOneStep) {
  Open();
  const PhotoId frame = TakePaired();
  PlaneView* plane = window_->instruments_band()->plane();
  ASSERT_FALSE(window_->instruments().regions().empty());
  const int steps = Standing();
  const QPointF from = plane->FrameDot(0), to = from + QPointF(12, -9);
  Drag(plane, from, to);
  EXPECT_TRUE(window_->instruments().trying());
  QTest::mouseRelease(plane, Qt::LeftButton, Qt::NoModifier, to.toPoint());
  EXPECT_FALSE(window_->instruments().trying());
  EXPECT_LT(QLineF(plane->FrameDot(0), to).length(), 4) << "the dot is where it was drawn to";
  ASSERT_TRUE(Until([&] { return Standing() == steps + 1; }));
  bool touched = false;
  for (const record::HandleFacts& facts : record::AllHandles())
    touched |= record::ValueOf(window_->link().desk()->TouchOf(frame), facts.handle) != 0;
  EXPECT_TRUE(touched);
  // Esc gives a drag up.
  const QPointF again = plane->FrameDot(0);
  plane->setFocus();
  Drag(plane, again, again + QPointF(10, 10));
  EXPECT_EQ(QApplication::focusWidget(), plane);
  Key(Qt::Key_Escape);
  EXPECT_FALSE(window_->instruments().trying());
  EXPECT_LT(QLineF(plane->FrameDot(0), again).length(), 1);
}

TEST_F(WindowTest, FieldsAreTypedSteppedDraggedAndReset) {
  Open();
  const PhotoId frame = TakePaired();
  const auto exposure = [&] { return window_->instruments().handles().at(0).value; };
  HandleField* field = window_->instruments_band()->correction()->field(record::Handle::kExposure);
  ASSERT_TRUE(field);
  field->setFocus();
  const double solved = window_->instruments().handles().at(0).solved;
  QTest::keyClicks(field, "+");
  ASSERT_TRUE(QApplication::focusWidget());
  QTest::keyClicks(QApplication::focusWidget(), "0.3");
  Key(Qt::Key_Return);
  EXPECT_NEAR(exposure(), solved + 0.3, 1e-6);
  EXPECT_EQ(QApplication::focusWidget(), field);
  const double step = record::FactsOf(record::Handle::kExposure).step;
  Key(Qt::Key_Up);
  EXPECT_NEAR(exposure(), solved + 0.3 + step, 1e-6);
  Key(Qt::Key_Down, Qt::ShiftModifier);
  EXPECT_NEAR(exposure(), solved + 0.3 - 9 * step, 1e-6);
  Key(Qt::Key_Backspace);
  EXPECT_NEAR(exposure(), solved, 1e-6);
  Drag(field, {40, 12}, {60, 12});
  EXPECT_NEAR(exposure(), solved + 5 * step, 1e-6) << "four px a step";
  QTest::mouseRelease(field, Qt::LeftButton, Qt::NoModifier, {60, 12});
  EXPECT_NEAR(record::ValueOf(window_->link().desk()->TouchOf(frame), record::Handle::kExposure), 5 * step,
              1e-6);
  QTest::mouseDClick(field, Qt::LeftButton, Qt::NoModifier, {40, 12});
  EXPECT_NEAR(exposure(), solved, 1e-6);
}

TEST_F(WindowTest, ARibbonIsCarriedToAnotherFrameAndTheWordOutlivesTheWindow) {
  Open();
  LoomView* loom = window_->loom();
  ASSERT_FALSE(loom->loom().ribbons.empty());
  TakePaired();
  QTest::qWait(20);
  int ribbon = 0;
  for (std::size_t i = 0; i < loom->loom().ribbons.size(); ++i)
    if (loom->loom().scans[loom->loom().ribbons[i].scan].id == window_->hand().scan())
      ribbon = static_cast<int>(i);
  const int frame = loom->loom().ribbons[ribbon].frame;
  const LoomLight& light = loom->loom().lights[loom->loom().frames[frame].light];
  const int next = frame > light.first_frame ? frame - 1 : frame + 1;
  const PhotoId scan = loom->loom().scans[loom->loom().ribbons[ribbon].scan].id,
                wanted = loom->loom().frames[next].id;
  const RibbonEnds ends = loom->EndsOf(ribbon);
  const QPointF to(loom->FrameBox(next).center().x(), ends.bottom.y() + 4);
  Drag(loom, RibbonPoint(ends, 0.85), to);
  QTest::mouseRelease(loom, Qt::LeftButton, Qt::NoModifier, to.toPoint());
  ASSERT_TRUE(Until([&] { return book().Scan(scan)->pair.by_person; }));
  EXPECT_EQ(book().Scan(scan)->pair.frame, wanted);
  // Another window on the same session: the word stands, and undo takes it back there.
  Reopen();
  EXPECT_TRUE(book().Scan(scan)->pair.by_person);
  window_->easel_view()->setFocus();
  Key(Qt::Key_Z, Qt::ControlModifier);
  EXPECT_TRUE(Until([&] { return !book().Scan(scan)->pair.by_person; }));
}

TEST_F(WindowTest, ATouchIsCarriedToTheLight) {
  Open();
  const PhotoId frame = TakePaired();
  record::Handles touch = window_->link().desk()->TouchOf(frame);
  record::SetValue(touch, record::Handle::kWarmth, 7);
  window_->link().desk()->Touch(frame, touch);
  window_->easel_view()->setFocus();
  Key(Qt::Key_C);
  auto* slip = qobject_cast<CarrySlip*>(window_->slip());
  ASSERT_TRUE(slip);
  QTest::mouseClick(slip->to(job::Carry::To::kLight), Qt::LeftButton);
  ASSERT_TRUE(slip->start()->isEnabled());
  QTest::mouseClick(slip->start(), Qt::LeftButton);
  EXPECT_FALSE(window_->slip());
  const int light = book().Frame(frame)->light;
  for (const job::FrameRow& row : book().frames)
    if (row.light == light && row.solved)
      EXPECT_NEAR(record::ValueOf(window_->link().desk()->TouchOf(row.photo.id), record::Handle::kWarmth), 7,
                  1e-9);
  Key(Qt::Key_Z, Qt::ControlModifier);
  EXPECT_TRUE(Until([&] {
    for (const job::FrameRow& row : book().frames)
      if (row.light == light && row.photo.id != frame &&
          record::ValueOf(window_->link().desk()->TouchOf(row.photo.id), record::Handle::kWarmth) != 0)
        return false;
    return true;
  })) << "one step back";
}

// A place that was matched in two frames lies at one place of their panes, as far as one similarity can say.
TEST_F(WindowTest, ANeighbourShowsThePlaceThatTheFrameShows) {
  Open();
  std::shared_ptr<const record::Correspondence> matched;
  const auto beside = [&] {  // a frame with a scan, and a settled neighbour that shows the same
    for (const job::FrameRow& row : book().frames) {
      window_->hand().TakeFrame(row.photo.id);
      matched = desk()->Matched(row.photo.id, window_->hand().Neighbour());
      if (matched && row.scan.valid()) return true;
    }
    return false;
  };
  ASSERT_TRUE(Until(beside)) << "the day has two frames of one moment";
  window_->easel_view()->setFocus();
  Key(Qt::Key_N);
  const auto pane = [&](Easel::Stand stand) -> const Easel::Pane& {
    for (const Easel::Pane& one : window_->easel().panes())
      if (one.stand == stand) return one;
    ADD_FAILURE() << "no such picture on the easel";
    return window_->easel().panes().front();
  };
  ASSERT_TRUE(Until([&] { return window_->easel().panes().size() == 3; }));
  window_->easel().ZoomTo(2, 1, {60, 60});
  const Easel::Pane &frame = pane(Easel::Stand::kFrame), &neighbour = pane(Easel::Stand::kNeighbour);
  const auto on_screen = [&](const Easel::Pane& of, double x, double y) {
    const record::Photo& photo = book().Frame(of.photo)->photo;
    return preview::OutputFromPicture(of.view, static_cast<int>(of.box.width()),
                                      static_cast<int>(of.box.height()),
                                      {x * photo.width_px, y * photo.height_px});
  };
  std::vector<double> away, apart;  // as they are laid; as the same part of the whole would lie
  const record::Photo& photo = book().Frame(frame.photo)->photo;
  for (const record::Cell& cell : matched->cells) {
    const preview::Point a = on_screen(frame, cell.ax, cell.ay), b = on_screen(neighbour, cell.bx, cell.by);
    away.push_back(std::hypot(a.x - b.x, a.y - b.y));
    apart.push_back(2 *
                    std::hypot((cell.ax - cell.bx) * photo.width_px, (cell.ay - cell.by) * photo.height_px));
  }
  ASSERT_GE(away.size(), 6u);
  const auto median = [](std::vector<double>& v) {
    std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2), v.end());
    return v[v.size() / 2];
  };
  EXPECT_LE(median(away), 2 * 0.01 * photo.width_px) << "a hundredth of the picture, at 200 %";
  EXPECT_LE(median(away), 0.5 * median(apart)) << "and far nearer than without the places";
  // And told the other way round.
  const auto back = desk()->Matched(neighbour.photo, frame.photo);
  ASSERT_TRUE(back);
  EXPECT_EQ(back->cells.front().ax, matched->cells.front().bx);
  EXPECT_EQ(back->cells.front().by, matched->cells.front().ay);
}

TEST_F(WindowTest, DeliversAndCanBeStopped) {
  Open();
  window_->easel_view()->setFocus();
  const fs::path out = SmallDay() / ("delivered-" + std::to_string(::getpid()));
  const auto deliver = [&] {
    Key(Qt::Key_D, Qt::ControlModifier);
    auto* slip = qobject_cast<DeliverSlip*>(window_->slip());
    ASSERT_TRUE(slip);
    slip->out()->edit()->setText(QString::fromStdString(out.string()));
    QTest::mouseClick(slip->start(), Qt::LeftButton);
  };
  deliver();
  ASSERT_TRUE(window_->link().desk()->job());
  window_->link().desk()->CancelJob();
  ASSERT_TRUE(Until([&] { return !window_->link().desk()->job(); }, 20000));
  for (const auto& entry : fs::directory_iterator(fs::exists(out) ? out : SmallDay() / "film"))
    EXPECT_EQ(entry.path().filename().string().find(".part"), std::string::npos)
        << "nothing half-written stays";
  window_->easel_view()->setFocus();
  deliver();
  ASSERT_TRUE(Idle());
  int files = 0;
  for (const auto& entry : fs::directory_iterator(out)) files += entry.path().extension() == ".jpg";
  EXPECT_EQ(files, static_cast<int>(book().frames.size()));
  fs::remove_all(out);
}

TEST_F(WindowTest, EveryBandIsReachedByKeysAndEveryControlHasAName) {
  Open();
  TakePaired();
  window_->easel_view()->setFocus();
  std::set<QWidget*> bands;
  for (int i = 0; i < 4; ++i) {
    Key(Qt::Key_F6);
    for (QWidget* band : std::initializer_list<QWidget*>{window_->worklist_band(), window_->loom(),
                                                         window_->easel_view(), window_->instruments_band()})
      if (QApplication::focusWidget() == band || band->isAncestorOf(QApplication::focusWidget()))
        bands.insert(band);
  }
  EXPECT_EQ(bands.size(), 4u);
  for (const QWidget* widget : window_->findChildren<QWidget*>())
    if (widget->focusPolicy() & Qt::TabFocus && widget->isVisible())
      EXPECT_FALSE(widget->accessibleName().isEmpty()) << widget->metaObject()->className();
}

TEST_F(WindowTest, WaysToLookFollowTheirKeys) {
  Open();
  TakePaired();
  window_->easel_view()->setFocus();
  Key(Qt::Key_W);
  EXPECT_EQ(window_->easel().way(), Easel::Way::kWipe);
  Key(Qt::Key_S);
  EXPECT_EQ(window_->easel().way(), Easel::Way::kSide);
  EXPECT_TRUE(window_->easel().fits());
  Key(Qt::Key_Plus);
  EXPECT_FALSE(window_->easel().fits());
  Key(Qt::Key_0);
  EXPECT_TRUE(window_->easel().fits());
  Key(Qt::Key_H);
  EXPECT_TRUE(window_->easel().marks());
  Key(Qt::Key_L);
  EXPECT_TRUE(window_->sheet_view()->isVisible());
  Key(Qt::Key_Escape);
  EXPECT_FALSE(window_->sheet_view()->isVisible());
  Key(Qt::Key_F1);
  EXPECT_TRUE(window_->slip());
  Key(Qt::Key_Escape);
  EXPECT_FALSE(window_->slip());
}

TEST_F(WindowTest, WorksAtTheSmallestSizeAndAtTwiceTheDensity) {
  Open();
  for (const QSize size : {QSize(1280, 800), QSize(2560, 1600)}) {
    window_->resize(size);
    QTest::qWait(20);
    const QImage seen = window_->grab().toImage();
    EXPECT_EQ(seen.size(), size);
    EXPECT_GT(window_->easel_view()->height(), 280);
    EXPECT_GE(window_->instruments_band()->correction()->x(),
              window_->instruments_band()->left_over()->geometry().right() - 6);
  }
}

}  // namespace
}  // namespace samelight::window
