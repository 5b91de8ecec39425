// Touching and carrying by events: follow, states, look-alikes, a selection, chosen handles, and back again.
#include <algorithm>
#include <cmath>

#include "window/view/window_testing.h"

namespace samelight::window {
namespace {

class TouchWindowTest : public WindowTest {
 protected:
  CorrectionView* correction() { return window_->instruments_band()->correction(); }
  record::Correction Now() { return *window_->instruments().correction(); }
  double TouchOf(PhotoId frame, record::Handle handle) {
    return record::ValueOf(desk()->TouchOf(frame), handle);
  }
  CarrySlip* Carry() {
    window_->easel_view()->setFocus();
    Key(Qt::Key_C);
    return qobject_cast<CarrySlip*>(window_->slip());
  }
  // Warmth and exposure of a paired frame, typed.
  PhotoId Touched() {
    const PhotoId frame = TakePaired();
    for (const record::Handle handle : {record::Handle::kWarmth, record::Handle::kExposure}) {
      HandleField* field = correction()->field(handle);
      field->setFocus();
      QTest::keyClicks(field, "+");
      Type(handle == record::Handle::kWarmth ? QStringLiteral("8") : QStringLiteral("0.4"));
      Key(Qt::Key_Return);
    }
    EXPECT_NEAR(TouchOf(frame, record::Handle::kWarmth), 8, 1e-6);
    return frame;
  }
};

TEST_F(TouchWindowTest, FollowIsDraggedTypedAndGivenToARegion) {
  Open();
  const PhotoId frame = TakePaired();
  FollowLine* line = correction()->follow();
  const int steps = Standing();
  Drag(line, {line->XOf(100), 15}, {line->XOf(60), 15});
  EXPECT_TRUE(window_->instruments().trying());
  EXPECT_NEAR(Now().follow, 0.6, 0.01) << "shown while it is dragged";
  QTest::mouseRelease(line, Qt::LeftButton, Qt::NoModifier, QPoint(static_cast<int>(line->XOf(60)), 15));
  ASSERT_TRUE(Until([&] { return Standing() == steps + 1; }));
  line->setFocus();
  Type(QStringLiteral("85"));
  EXPECT_NEAR(Now().follow, 0.85, 1e-6);
  Key(Qt::Key_Return);
  ASSERT_TRUE(Until([&] { return Standing() == steps + 2; }));
  Key(Qt::Key_Left, Qt::ShiftModifier);
  EXPECT_NEAR(Now().follow, 0.75, 1e-6);
  Choose([&] { MenuAt(line, {200, 15}); }, {QStringLiteral("skin goes its own way")});
  ASSERT_TRUE(Until([&] { return Now().follow_skin < Now().follow - 0.1; }));
  EXPECT_LT(book().Frame(frame)->solution.correction.follow_skin, 0.7);
  Choose([&] { MenuAt(line, {200, 15}); }, {QStringLiteral("skin goes with the rest")});
  EXPECT_TRUE(Until([&] { return Now().follow_skin == Now().follow; }));
  EXPECT_EQ(book().frames.size(),
            static_cast<std::size_t>(std::count_if(book().frames.begin(), book().frames.end(),
                                                   [&](const job::FrameRow& row) {
                                                     return row.photo.id == frame ||
                                                            row.solution.correction.follow == 1;
                                                   })))
      << "this frame only";
}

TEST_F(TouchWindowTest, AGripOfTheToneIsDraggedAndSteppedByKeys) {
  Open();
  const PhotoId frame = TakePaired();
  ToneView* tone = window_->instruments_band()->tone();
  const std::vector<job::ToneCurves::Grip>& grips = window_->instruments().tone().grips;
  ASSERT_GE(grips.size(), 3u);
  int gamma = 0;
  while (grips[gamma].handle != record::Handle::kGamma) ++gamma;
  const double step = record::FactsOf(record::Handle::kGamma).step;
  const int steps = Standing();
  const QPointF from = tone->GripAt(gamma).toPoint();  // a mouse points at whole px
  Drag(tone, from, from - QPointF(0, 20));
  EXPECT_TRUE(window_->instruments().trying());
  EXPECT_NEAR(Now().touch.gamma, 5 * step, 1e-9) << "four px a step";
  QTest::mouseRelease(tone, Qt::LeftButton, Qt::NoModifier, (from - QPointF(0, 20)).toPoint());
  EXPECT_NEAR(TouchOf(frame, record::Handle::kGamma), 5 * step, 1e-9);
  ASSERT_TRUE(Until([&] { return Standing() == steps + 1; }));
  tone->setFocus();
  Key(Qt::Key_Down, Qt::ShiftModifier);
  EXPECT_NEAR(TouchOf(frame, record::Handle::kGamma), -5 * step, 1e-9);
  Drag(tone, tone->GripAt(gamma), tone->GripAt(gamma) + QPointF(0, 16));
  Key(Qt::Key_Escape);
  EXPECT_FALSE(window_->instruments().trying());
  EXPECT_NEAR(TouchOf(frame, record::Handle::kGamma), -5 * step, 1e-9) << "given up";
}

TEST_F(TouchWindowTest, TheWheelStepsAFieldAndItsMenuResetsIt) {
  Open();
  const PhotoId frame = TakePaired();
  HandleField* field = correction()->field(record::Handle::kWarmth);
  const QPointF middle(field->width() / 2.0, field->height() / 2.0);
  const double step = record::FactsOf(record::Handle::kWarmth).step;
  const int steps = Standing();
  for (int i = 0; i < 3; ++i) Wheel(field, middle, 1);
  Wheel(field, middle, 1, Qt::ShiftModifier);
  EXPECT_NEAR(Now().touch.warmth_mired, 13 * step, 1e-9) << "three fine steps and a coarse one";
  ASSERT_TRUE(Until([&] { return Standing() == steps + 1; })) << "one turn of the wheel is one step";
  const auto value = [&] {
    for (const job::HandleValue& one : window_->instruments().handles())
      if (one.handle == record::Handle::kWarmth) return one;
    return job::HandleValue{};
  };
  const auto open = [&] { MenuAt(field, middle); };
  Choose(open, {QStringLiteral("To nothing")});
  EXPECT_NEAR(value().value, 0, 1e-9);
  Choose(open, {QStringLiteral("As the light has it")});
  EXPECT_NEAR(value().value, value().of_light, 1e-6);
  Choose(open, {QStringLiteral("Back to solved")});
  EXPECT_EQ(TouchOf(frame, record::Handle::kWarmth), 0);
  // The line that tells how far to follow: one turn of the wheel, one step.
  FollowLine* line = correction()->follow();
  const int before = Standing();
  for (int i = 0; i < 4; ++i) Wheel(line, {line->XOf(50), 15}, -1);
  EXPECT_NEAR(Now().follow, 0.96, 1e-6);
  ASSERT_TRUE(Until([&] { return Standing() == before + 1; }));
  EXPECT_NEAR(Now().follow, 0.96, 1e-6);
}

// A person who goes on at once loses nothing, and says nothing about the next frame.
TEST_F(TouchWindowTest, WhatIsHalfSaidIsKeptOnTheFrameThatItWasSaidOf) {
  Open();
  const PhotoId frame = TakePaired(), next = book().frames[book().FrameIndex(frame) > 0 ? 0 : 1].photo.id;
  HandleField* field = correction()->field(record::Handle::kWarmth);
  Wheel(field, QPointF(20, 10), 3);
  window_->hand().TakeFrame(next);
  EXPECT_NEAR(TouchOf(frame, record::Handle::kWarmth), 3 * record::FactsOf(record::Handle::kWarmth).step,
              1e-9);
  window_->hand().TakeFrame(frame);
  field = correction()->field(record::Handle::kExposure);
  field->setFocus();
  QTest::keyClicks(field, "+");
  Type(QStringLiteral("0.4"));
  window_->hand().TakeFrame(next);
  EXPECT_NEAR(TouchOf(frame, record::Handle::kExposure), 0.4, 1e-9);
  window_->hand().TakeFrame(frame);
  FollowLine* line = correction()->follow();
  Wheel(line, {line->XOf(50), 15}, -1, Qt::ShiftModifier);
  window_->hand().TakeFrame(next);
  EXPECT_NEAR(book().Frame(frame)->solution.correction.follow, 0.9, 1e-9);
  QTest::qWait(700);  // whatever else would have been kept
  EXPECT_EQ(desk()->TouchOf(next), record::Handles{});
  EXPECT_EQ(book().Frame(next)->solution.correction.follow, 1);
}

TEST_F(TouchWindowTest, LookAlikesAreShownBeforeATouchGoesThere) {
  Open();
  const PhotoId frame = Touched();
  CarrySlip* slip = Carry();
  ASSERT_TRUE(slip);
  QTest::mouseClick(slip->to(job::Carry::To::kLookAlikes), Qt::LeftButton);
  job::Carry carry;
  carry.from = frame;
  carry.to = job::Carry::To::kLookAlikes;
  const std::vector<PhotoId> alike = desk()->Reach(carry);
  ASSERT_FALSE(alike.empty()) << "the day has several frames of each scene";
  EXPECT_TRUE(slip->start()->text().contains(QString::number(alike.size())))
      << slip->start()->text().toStdString();
  const int steps = Standing();
  QTest::mouseClick(slip->start(), Qt::LeftButton);
  ASSERT_TRUE(Until([&] { return Standing() == steps + 1; }));
  for (const job::FrameRow& row : book().frames) {
    const bool meant =
        row.photo.id == frame || std::find(alike.begin(), alike.end(), row.photo.id) != alike.end();
    EXPECT_NEAR(TouchOf(row.photo.id, record::Handle::kWarmth), meant ? 8 : 0, 1e-6) << row.name;
  }
}

TEST_F(TouchWindowTest, OnlyChosenHandlesGoToASelection) {
  Open();
  const PhotoId frame = Touched();
  LoomView* loom = window_->loom();
  std::vector<PhotoId> others;
  std::set<int> chosen;
  for (std::size_t i = 0; i < loom->loom().frames.size() && others.size() < 2; ++i)
    if (loom->loom().frames[i].id != frame) {
      others.push_back(loom->loom().frames[i].id);
      chosen.insert(static_cast<int>(i));
    }
  loom->SetSelection(chosen);
  CarrySlip* slip = Carry();
  ASSERT_TRUE(slip);
  EXPECT_TRUE(slip->to(job::Carry::To::kSelection)->isChecked()) << "a selection is meant first";
  for (QCheckBox* box : slip->findChildren<QCheckBox*>())
    if (box->text().startsWith(QLatin1String("exposure"))) {
      box->setFocus();
      Key(Qt::Key_Space);
    }
  QTest::mouseClick(slip->start(), Qt::LeftButton);
  ASSERT_TRUE(Until([&] { return std::abs(TouchOf(others[0], record::Handle::kWarmth) - 8) < 1e-6; }));
  for (const PhotoId other : others) {
    EXPECT_NEAR(TouchOf(other, record::Handle::kWarmth), 8, 1e-6);
    EXPECT_EQ(TouchOf(other, record::Handle::kExposure), 0) << "was not chosen";
  }
  for (const job::FrameRow& row : book().frames)
    if (row.photo.id != frame && std::find(others.begin(), others.end(), row.photo.id) == others.end())
      EXPECT_EQ(TouchOf(row.photo.id, record::Handle::kWarmth), 0);
  // One handle from its own field to the light.
  HandleField* field = correction()->field(record::Handle::kExposure);
  field->setFocus();
  Key(Qt::Key_L, Qt::ControlModifier);
  const int light = book().Frame(frame)->light;
  ASSERT_TRUE(Until([&] {
    return std::all_of(book().frames.begin(), book().frames.end(), [&](const job::FrameRow& row) {
      return row.light != light || std::abs(TouchOf(row.photo.id, record::Handle::kExposure) - 0.4) < 1e-6;
    });
  }));
}

TEST_F(TouchWindowTest, AFrameIsTurnedStraightenedAndCut) {
  Open();
  const PhotoId frame = TakePaired();
  LoomView* loom = window_->loom();
  QTest::qWait(20);
  int at = 0;
  for (std::size_t i = 0; i < loom->loom().frames.size(); ++i)
    if (loom->loom().frames[i].id == frame) at = static_cast<int>(i);
  Choose([&] { MenuAt(loom, loom->FrameBox(at).center()); }, {QStringLiteral("Turn, straighten, cut")});
  auto* slip = qobject_cast<FrameSlip*>(window_->slip());
  ASSERT_TRUE(slip);
  EXPECT_TRUE(window_->easel().CutOfFrame(frame).empty());
  const auto type = [&](QLineEdit* edit, const char* text) {
    edit->setFocus();
    edit->selectAll();
    QTest::keyClicks(edit, text);
    QTest::keyClick(edit, Qt::Key_Return);
  };
  const int steps = Standing();
  type(slip->straighten(), "2,5");
  ASSERT_TRUE(Until([&] { return desk()->FramingOf(frame).crop.angle_deg == 2.5; }));
  type(slip->left(), "200");
  EXPECT_EQ(desk()->FramingOf(frame).crop.left, 0) << "outside the picture";
  slip->left()->setText(QStringLiteral("10"));
  type(slip->left(), "10");
  ASSERT_TRUE(Until([&] { return std::abs(desk()->FramingOf(frame).crop.left - 0.1) < 1e-9; }));
  EXPECT_EQ(window_->easel().CutOfFrame(frame).size(), 4u);
  EXPECT_EQ(Standing(), steps + 2);
  Key(Qt::Key_Escape);
  window_->easel_view()->setFocus();
  Key(Qt::Key_Z, Qt::ControlModifier);
  Key(Qt::Key_Z, Qt::ControlModifier);
  EXPECT_TRUE(Until([&] { return record::Whole(desk()->FramingOf(frame)); }));
}

TEST_F(TouchWindowTest, TouchesOutliveTheWindowAndAreTakenBackThere) {
  Open();
  const PhotoId frame = Touched();
  const int steps = Standing();
  Reopen();
  EXPECT_EQ(Standing(), steps);
  EXPECT_NEAR(TouchOf(frame, record::Handle::kExposure), 0.4, 1e-6);
  window_->easel_view()->setFocus();
  Key(Qt::Key_Z, Qt::ControlModifier);
  ASSERT_TRUE(Until([&] { return TouchOf(frame, record::Handle::kExposure) == 0; }));
  EXPECT_NEAR(TouchOf(frame, record::Handle::kWarmth), 8, 1e-6) << "one step at a time";
  Key(Qt::Key_Z, Qt::ControlModifier | Qt::ShiftModifier);
  ASSERT_TRUE(Until([&] { return std::abs(TouchOf(frame, record::Handle::kExposure) - 0.4) < 1e-6; }));
}

TEST_F(TouchWindowTest, StatesAreKeptLookedAtTakenUpAndDropped) {
  Open();
  const PhotoId frame = Touched();
  QAbstractButton* states = nullptr;
  for (QAbstractButton* button : correction()->findChildren<QAbstractButton*>())
    if (button->text() == QLatin1String("States")) states = button;
  ASSERT_TRUE(states);
  const auto open = [&] { QTest::mouseClick(states, Qt::LeftButton); };
  WithMenu(open, [&](QMenu* menu) {
    auto* name = menu->findChild<QLineEdit*>();
    ASSERT_TRUE(name);
    QTest::keyClicks(name, "warmer");
    QTest::keyClick(name, Qt::Key_Return);
  });
  ASSERT_TRUE(Until([&] { return desk()->States(frame).size() == 1; }));
  Choose(open, {QStringLiteral("As solved")});
  ASSERT_TRUE(Until([&] { return desk()->TouchOf(frame) == record::Handles{}; }));
  desk()->SetFollow(60, {frame}, std::nullopt);
  ASSERT_TRUE(Until([&] { return std::abs(Now().follow - 0.6) < 1e-6; }));
  // Pointed at, it is on the easel, and gone with the menu.
  WithMenu(open, [&](QMenu* menu) {
    QMenu* one = Find(menu, QStringLiteral("warmer"))->menu();
    menu->setActiveAction(one->menuAction());
    QTest::keyClick(menu, Qt::Key_Return);
    one->setActiveAction(Find(one, QStringLiteral("Look at it")));
    EXPECT_TRUE(window_->instruments().trying());
    EXPECT_NEAR(Now().touch.warmth_mired, 8, 1e-6);
    EXPECT_NEAR(Now().follow, 1, 1e-6) << "with its share of the film";
  });
  EXPECT_FALSE(window_->instruments().trying());
  Choose(open, {QStringLiteral("warmer"), QStringLiteral("Take it up")});
  ASSERT_TRUE(Until([&] { return std::abs(TouchOf(frame, record::Handle::kWarmth) - 8) < 1e-6; }));
  Choose(open, {QStringLiteral("warmer"), QStringLiteral("Drop it")});
  EXPECT_TRUE(Until([&] { return desk()->States(frame).empty(); }));
}

}  // namespace
}  // namespace samelight::window
