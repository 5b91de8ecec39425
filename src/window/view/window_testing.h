// A window in a test, and what a person does with it. The tests share one application with its focus, its
// settings and the small day's folder, and each leaves them changed: ctest runs every test as a program of
// its own, and what goes wrong when many are run in one is no fault of the window.
#pragma once

#include <gtest/gtest.h>

#include <functional>

#include <QtCore/QTimer>
#include <QtGui/QContextMenuEvent>
#include <QtWidgets/QLineEdit>
#include <QtWidgets/QMenu>

#include "window/view/testing.h"

namespace samelight::window {

class WindowTest : public ::testing::Test {
 protected:
  void SetUp() override {
    App();
    window_ = std::make_unique<MainWindow>(std::filesystem::path());
    window_->resize(1600, 1000);
    window_->show();
    window_->activateWindow();
    ASSERT_TRUE(QTest::qWaitForWindowActive(window_.get()));
  }
  void Open() {
    ASSERT_TRUE(OpenNow(window_->link(), MatchedSession()));
    window_->activateWindow();  // making the session may have shown another
    ASSERT_TRUE(QTest::qWaitForWindowActive(window_.get()));
    // The matched places come a little later, and what is read off them is then read anew.
    for (const job::ScanRow& scan : book().scans)
      if (scan.pair.kind == record::PairKind::kMoment && !scan.pair.by_person) {
        const PhotoId of = scan.photo.id, to = scan.pair.frame;
        ASSERT_TRUE(Until([&] { return desk()->Matched(of, to) != nullptr; }));
        break;
      }
    QTest::qWait(50);
  }
  // Another window, as after a restart.
  void Reopen() {
    if (window_) window_->close();
    window_ = std::make_unique<MainWindow>(std::filesystem::path());
    window_->resize(1600, 1000);
    window_->show();
    Open();
  }
  bool Until(const std::function<bool()>& done, int ms = 8000) { return QTest::qWaitFor(done, ms); }
  bool Idle(int ms = 600000) {
    return Until([this] { return window_->link().desk() && !window_->link().desk()->job(); }, ms);
  }
  void Key(Qt::Key key, Qt::KeyboardModifiers modifiers = Qt::NoModifier) {
    QTest::keyClick(QApplication::focusWidget() ? QApplication::focusWidget() : window_.get(), key,
                    modifiers);
  }
  void Type(const QString& text) { QTest::keyClicks(QApplication::focusWidget(), text); }
  void Move(QWidget* on, QPointF at, Qt::KeyboardModifiers modifiers = Qt::NoModifier) {
    QMouseEvent move(QEvent::MouseMove, at, on->mapToGlobal(at), Qt::NoButton, Qt::LeftButton, modifiers);
    QApplication::sendEvent(on, &move);
  }
  void Wheel(QWidget* on, QPointF at, int notches, Qt::KeyboardModifiers modifiers = Qt::NoModifier) {
    QWheelEvent wheel(at, on->mapToGlobal(at), {}, {0, 120 * notches}, Qt::NoButton, modifiers,
                      Qt::NoScrollPhase, false);
    QApplication::sendEvent(on, &wheel);
  }
  void Drag(QWidget* on, QPointF from, QPointF to) {
    QTest::mousePress(on, Qt::LeftButton, Qt::NoModifier, from.toPoint());
    for (int i = 1; i <= 6; ++i) Move(on, from + (to - from) * i / 6);
  }
  void DragAndDrop(QWidget* on, QPointF from, QPointF to) {
    Drag(on, from, to);
    QTest::mouseRelease(on, Qt::LeftButton, Qt::NoModifier, to.toPoint());
  }
  // The first action whose words begin so.
  static QAction* Find(QMenu* menu, const QString& words) {
    for (QAction* action : menu->actions())
      if (action->text().startsWith(words)) return action;
    return nullptr;
  }
  // Opens a menu by `open` and walks by keys to one of its entries, through submenus; the words of each.
  void Choose(const std::function<void()>& open, const QStringList& path) {
    bool chosen = false;
    WithMenu(open, [&](QMenu* menu) {
      for (int i = 0; i < path.size(); ++i) {
        QAction* action = menu ? Find(menu, path[i]) : nullptr;
        if (!action || !action->isEnabled()) return;
        menu->setActiveAction(action);
        QTest::keyClick(menu, Qt::Key_Return);
        chosen = i + 1 == path.size();
        menu = action->menu();
      }
    });
    EXPECT_TRUE(chosen) << "no entry " << path.join(QStringLiteral(" / ")).toStdString();
  }
  // Does `then` once a menu is open, and shuts what is left of it.
  void WithMenu(const std::function<void()>& open, const std::function<void(QMenu*)>& then) {
    bool came = false;
    QTimer::singleShot(30, window_.get(), [&] {
      auto* menu = qobject_cast<QMenu*>(QApplication::activePopupWidget());
      came = menu != nullptr;
      if (menu) then(menu);
      while (QWidget* left = QApplication::activePopupWidget()) left->close();
    });
    open();
    QTest::qWait(60);
    EXPECT_TRUE(came) << "no menu came";
    window_->activateWindow();
    EXPECT_TRUE(QTest::qWaitForWindowActive(window_.get()));
  }
  void MenuAt(QWidget* on, QPointF at) {
    QContextMenuEvent e(QContextMenuEvent::Mouse, at.toPoint(), on->mapToGlobal(at.toPoint()));
    QApplication::sendEvent(on, &e);
  }
  const job::Book& book() { return *window_->link().book(); }
  job::Desk* desk() { return window_->link().desk(); }
  int Standing() {
    int steps = 0;
    for (const session::HistoryEntry& entry : book().history) steps += entry.standing;
    return steps;
  }
  // A frame that is paired, in hand.
  PhotoId TakePaired() {
    for (const job::ScanRow& scan : book().scans)
      if (scan.pair.kind == record::PairKind::kMoment) {
        window_->hand().TakeScan(scan.photo.id);
        return scan.pair.frame;
      }
    ADD_FAILURE() << "no scan is paired";
    return {};
  }
  std::unique_ptr<MainWindow> window_;
};

}  // namespace samelight::window
