// Looking by events: flicker, before, wipe, marks at the ends of the range, outlines, the sheet. What is
// painted is compared, pixel for pixel, with the picture that was made for that place.
#include <cmath>

#include "window/view/window_testing.h"

namespace samelight::window {
namespace {

class LookWindowTest : public WindowTest {
 protected:
  EaselView* view() { return window_->easel_view(); }
  const Easel::Pane& Main() {
    for (const Easel::Pane& pane : window_->easel().panes())
      if (pane.stand == Easel::Stand::kFrame) return pane;
    ADD_FAILURE() << "no frame on the easel";
    return window_->easel().camera();
  }
  bool Came(const Easel::Pane& pane) { return !pane.shown.empty() && !pane.soft; }
  // Share of the pane's pixels, between two parts of its width, that are those of `picture`. The edges are
  // left out: outlines and the focus are drawn there.
  double Share(const preview::Shown& picture, double from = 0.02, double to = 0.98) {
    const QRect box = Main().box.toAlignedRect();
    const QImage seen = view()->grab(box).toImage().convertToFormat(QImage::Format_RGB32);
    if (picture.width != seen.width() || picture.height != seen.height()) return -1;
    long same = 0, all = 0;
    for (int y = 4; y < seen.height() - 4; ++y)
      for (int x = static_cast<int>(from * seen.width()); x < static_cast<int>(to * seen.width()); ++x) {
        const QRgb want = picture.argb[static_cast<std::size_t>(y) * picture.width + x];
        if (qAlpha(want) != 255) continue;  // beyond the picture's edge
        ++all;
        same += (seen.pixel(x, y) | 0xff000000) == want;
      }
    return all > 1000 ? static_cast<double>(same) / static_cast<double>(all) : -1;
  }
  void OpenAtPair() {
    Open();
    TakePaired();
    view()->setFocus();
    ASSERT_TRUE(Until([&] { return Came(Main()); }));
  }
  void Hold(Qt::Key key, bool down) {
    QTest::sendKeyEvent(down ? QTest::Press : QTest::Release, view(), key, QString(), Qt::NoModifier);
  }
};

TEST_F(LookWindowTest, FlickerTakesTurnsWhileItsKeyIsHeld) {
  OpenAtPair();
  EXPECT_EQ(Share(Main().shown), 1);
  Hold(Qt::Key_F, true);
  const Easel::Pane& over = window_->easel().over();
  ASSERT_TRUE(Until([&] { return Came(over); }));
  EXPECT_TRUE(Until([&] { return Share(over.shown) == 1; }, 3000)) << "the scan in the frame's place";
  EXPECT_TRUE(Until([&] { return Share(Main().shown) == 1; }, 3000)) << "and the frame again";
  EXPECT_TRUE(Until([&] { return Share(over.shown) == 1; }, 3000));
  Hold(Qt::Key_F, false);
  EXPECT_EQ(Share(Main().shown), 1);
  QTest::qWait(900);  // two turns
  EXPECT_EQ(Share(Main().shown), 1) << "nothing takes turns any more";
}

TEST_F(LookWindowTest, BeforeShowsTheCamerasOwnWhileItsKeyIsHeld) {
  OpenAtPair();
  Hold(Qt::Key_B, true);
  const Easel::Pane& camera = window_->easel().camera();
  ASSERT_TRUE(Until([&] { return Came(camera); }));
  EXPECT_EQ(Share(camera.shown), 1);
  EXPECT_LT(Share(Main().shown), 0.5) << "the correction is seen";
  Hold(Qt::Key_B, false);
  EXPECT_EQ(Share(Main().shown), 1);
  // Another window takes the keys while it is held: the key's end is never heard here.
  Hold(Qt::Key_B, true);
  QWidget other;
  other.show();
  other.activateWindow();
  ASSERT_TRUE(QTest::qWaitForWindowActive(&other));
  EXPECT_TRUE(Until([&] { return Share(Main().shown) == 1; }, 3000));
}

TEST_F(LookWindowTest, TheWipesEdgeIsDragged) {
  OpenAtPair();
  Key(Qt::Key_W);
  const Easel::Pane& over = window_->easel().over();
  ASSERT_TRUE(Until([&] { return Came(over) && Came(Main()); }));
  EXPECT_EQ(Share(over.shown, 0.02, 0.48), 1);
  EXPECT_EQ(Share(Main().shown, 0.52, 0.98), 1);
  const QRectF box = Main().box;
  DragAndDrop(view(), box.center(), {box.left() + 0.25 * box.width(), box.center().y()});
  EXPECT_EQ(Share(over.shown, 0.02, 0.23), 1);
  EXPECT_EQ(Share(Main().shown, 0.27, 0.98), 1);
}

TEST_F(LookWindowTest, WhatIsClippedIsHatchedInBlackAndWhite) {
  OpenAtPair();
  // Into black: how near to white a film's look comes at most is its own affair.
  record::Handles dark = desk()->TouchOf(window_->hand().frame());
  dark.exposure_ev -= 8;
  dark.black_density += 3;
  desk()->Touch(window_->hand().frame(), dark);
  Key(Qt::Key_H);
  const auto clipped = [&] {
    long marked = 0;
    for (const std::uint8_t mark : Main().shown.marks) marked += mark != 0;
    return marked;
  };
  ASSERT_TRUE(Until([&] { return Came(Main()) && clipped() > 1000; }));
  QTest::qWait(100);
  const QRect box = Main().box.toAlignedRect();
  const QImage seen = view()->grab(box).toImage().convertToFormat(QImage::Format_RGB32);
  const preview::Shown& shown = Main().shown;
  ASSERT_EQ(seen.width(), shown.width);
  long hatched = 0;
  for (int y = 4; y < seen.height() - 4; ++y)
    for (int x = 4; x < seen.width() - 4; ++x) {
      const std::size_t at = static_cast<std::size_t>(y) * shown.width + x;
      const QRgb is = seen.pixel(x, y) | 0xff000000;
      if (is == shown.argb[at]) continue;
      ++hatched;
      EXPECT_NE(shown.marks[at], 0) << "only where something is lost";
      EXPECT_TRUE(is == 0xff000000 || is == 0xffffffff) << "no colour over a picture";
    }
  EXPECT_GT(hatched, clipped() / 16);
  EXPECT_LT(hatched, clipped() / 2) << "thin: the picture stays to be seen";
  Key(Qt::Key_H);
  ASSERT_TRUE(Until([&] { return Came(Main()); }));
  EXPECT_EQ(Share(Main().shown), 1);
}

TEST_F(LookWindowTest, ARowOfTheTableShowsItsPlacesInBothPictures) {
  OpenAtPair();
  LeftOverView* table = window_->instruments_band()->left_over();
  const auto grabs = [&] {
    std::vector<QImage> out;
    for (const Easel::Pane& pane : window_->easel().panes())
      out.push_back(view()->grab(pane.box.toAlignedRect()).toImage());
    return out;
  };
  int row = 0;
  while (row < static_cast<int>(window_->instruments().regions().size()) &&
         !window_->instruments().regions()[row].has_scan)
    ++row;
  const std::vector<QImage> plain = grabs();
  ASSERT_EQ(plain.size(), 2u);
  QMouseEvent over(QEvent::MouseMove, table->RowBox(row).center(),
                   table->mapToGlobal(table->RowBox(row).center()), Qt::NoButton, Qt::NoButton,
                   Qt::NoModifier);
  QApplication::sendEvent(table, &over);
  const std::vector<QImage> outlined = grabs();
  EXPECT_NE(outlined[0], plain[0]);
  EXPECT_NE(outlined[1], plain[1]);
  QEvent leave(QEvent::Leave);
  QApplication::sendEvent(table, &leave);
  EXPECT_EQ(grabs(), plain);
}

TEST_F(LookWindowTest, TheSheetLaysOutALightAndMarksWhatStandsOut) {
  OpenAtPair();
  const PhotoId frame = window_->hand().frame();
  const int light = book().Frame(frame)->light;
  record::Handles far = desk()->TouchOf(frame);
  far.exposure_ev += 1.5;
  desk()->Touch(frame, far);
  ASSERT_TRUE(Until([&] { return book().Frame(frame)->worst > 2 * book().tolerance; }));
  Key(Qt::Key_L);
  SheetView* sheet = window_->sheet_view();
  ASSERT_TRUE(sheet->isVisible());
  EXPECT_FALSE(view()->isVisible()) << "it takes the easel's place";
  std::vector<PhotoId> of_light;
  for (const job::FrameRow& row : book().frames)
    if (row.light == light) of_light.push_back(row.photo.id);
  ASSERT_GE(of_light.size(), 3u);
  const QSizeF cell = sheet->CellBox(0).size();
  int at = 0;
  for (std::size_t i = 0; i < of_light.size(); ++i) {
    EXPECT_EQ(sheet->CellBox(static_cast<int>(i)).size(), cell) << "equal pictures";
    if (of_light[i] == frame) at = static_cast<int>(i);
  }
  QTest::qWait(50);
  // The bar under the picture: white and twice as high as that of a frame within its mark.
  const auto bar = [&](int row) {
    const QRectF box = sheet->CellBox(row);
    return sheet->grab().toImage().pixelColor(static_cast<int>(box.left()) + 4,
                                              static_cast<int>(box.bottom()) + 4);
  };
  EXPECT_EQ(bar(at), theme::kMark);
  for (std::size_t i = 0; i < of_light.size(); ++i)
    if (book().Frame(of_light[i])->scan.valid() && book().Frame(of_light[i])->worst < book().tolerance)
      EXPECT_NE(bar(static_cast<int>(i)), theme::kMark);
  // Walked through by keys, chosen by Space, left by Esc.
  const bool last = at + 1 == static_cast<int>(of_light.size());
  Key(last ? Qt::Key_Left : Qt::Key_Right);
  EXPECT_EQ(window_->hand().frame(), of_light[last ? at - 1 : at + 1]);
  Key(Qt::Key_Space);
  EXPECT_EQ(sheet->chosen().size(), 1u);
  EXPECT_EQ(window_->loom()->selection().size(), 1u);
  QTest::mouseClick(sheet, Qt::LeftButton, Qt::NoModifier, sheet->CellBox(at).center().toPoint());
  EXPECT_EQ(window_->hand().frame(), frame);
  QTest::mouseDClick(sheet, Qt::LeftButton, Qt::NoModifier, sheet->CellBox(at).center().toPoint());
  EXPECT_TRUE(view()->isVisible());
  EXPECT_EQ(window_->hand().frame(), frame) << "on the easel is what was clicked";
}

}  // namespace
}  // namespace samelight::window
