#include "bench/window_work.h"

#include <QtCore/QEventLoop>
#include <QtCore/QTimer>
#include <QtGui/QKeyEvent>
#include <QtGui/QMouseEvent>
#include <QtGui/QWheelEvent>

namespace samelight::bench {

void WindowWork::Spend(int ms) {
  QEventLoop loop;
  QTimer::singleShot(ms, &loop, &QEventLoop::quit);
  loop.exec();
}

void WindowWork::Wheel(int notches, Qt::KeyboardModifiers modifiers) {
  window::LoomView* loom = window_.loom();
  const QPointF at(loom->width() / 2.0, loom->height() / 2.0);
  QApplication::postEvent(loom, new QWheelEvent(at, loom->mapToGlobal(at), {}, QPoint(0, 120 * notches),
                                                Qt::NoButton, modifiers, Qt::NoScrollPhase, false));
}

void WindowWork::Wander(int step) {
  window::LoomView* loom = window_.loom();
  const QPointF at(200 + (step * 37) % 1200, loom->height() * 0.7);
  QApplication::postEvent(loom, new QMouseEvent(QEvent::MouseMove, at, loom->mapToGlobal(at), Qt::NoButton,
                                                Qt::NoButton, Qt::NoModifier));
}

void WindowWork::WalkLoom() {
  for (int i = 0; i < 220; ++i) {
    dog_.Doing("walking");
    Wheel(i < 150 ? -2 : 2, {});
    Wander(i);
    if (i % 20 == 19) {
      dog_.Doing("a pleat");
      Wheel(i % 40 == 19 ? 1 : -1, Qt::ControlModifier);
    }
    if (i % 30 == 29) {
      dog_.Doing("another frame in hand");
      QApplication::postEvent(&window_, new QKeyEvent(QEvent::KeyPress, Qt::Key_PageDown, Qt::NoModifier));
    }
    Spend(16);
  }
}

void WindowWork::WalkWholeLoom() {
  window::LoomView* loom = window_.loom();
  const int pictures = static_cast<int>(loom->loom().frames.size());
  constexpr int kNotches = 3, kFramesOfThem = 4;
  const int steps = pictures / kFramesOfThem + 1;
  window_.hand().TakeFrame(loom->loom().frames.front().id);
  Spend(1500);
  for (int i = 0; i < 2 * steps; ++i) {
    dog_.Doing(i < steps ? "forward" : "back");
    Wheel(i < steps ? -kNotches : kNotches, {});
    if (i % 3 == 0) Wander(i);
    if (i % 25 == 24) {
      dog_.Doing("a pleat");
      Wheel(i % 50 == 24 ? 2 : -2, Qt::ControlModifier);
    }
    Spend(16);
  }
}

void WindowWork::SettleAndUndo() {
  window_.easel_view()->setFocus();
  for (int i = 0; i < 12; ++i) {
    Key("settling", Qt::Key_Return, {}, 120);
    Key("undoing", Qt::Key_Z, Qt::ControlModifier, 120);
  }
}

void WindowWork::Touch() {
  window::HandleField* field = window_.instruments_band()->correction()->field(record::Handle::kGamma);
  Drag("a field is drawn", field, QPointF(field->rect().center()), {60, 0});
  window::PlaneView* plane = window_.instruments_band()->plane();
  Drag("a dot is drawn", plane, plane->FrameDot(0), {9, -7});
  window::FollowLine* follow = window_.instruments_band()->correction()->follow();
  Drag("follow is drawn", follow, {follow->XOf(100), 15}, {follow->XOf(55) - follow->XOf(100), 0});
  for (const auto& [what, key] : {std::pair("wipe", Qt::Key_W),
                                  {"side by side", Qt::Key_S},
                                  {"nearer", Qt::Key_Plus},
                                  {"nearer", Qt::Key_Plus},
                                  {"all of it", Qt::Key_0},
                                  {"hatching", Qt::Key_H},
                                  {"hatching", Qt::Key_H},
                                  {"a neighbour", Qt::Key_N},
                                  {"a neighbour", Qt::Key_N},
                                  {"the sheet", Qt::Key_L},
                                  {"the sheet", Qt::Key_L}})
    Key(what, key, {});
  Key("carried to the light", Qt::Key_L, Qt::ControlModifier);
  Key("undone", Qt::Key_Z, Qt::ControlModifier);
}

void WindowWork::Mouse(QWidget* on, QEvent::Type type, QPointF at) {
  const bool held = type != QEvent::MouseButtonRelease;
  const Qt::MouseButton button = type == QEvent::MouseMove ? Qt::NoButton : Qt::LeftButton;
  QApplication::postEvent(on, new QMouseEvent(type, at, on->mapToGlobal(at), button,
                                              held ? Qt::LeftButton : Qt::NoButton, Qt::NoModifier));
  Spend(16);
}

void WindowWork::Drag(const char* what, QWidget* on, QPointF from, QPointF by) {
  dog_.Doing(what);
  Mouse(on, QEvent::MouseButtonPress, from);
  for (int i = 1; i <= 40; ++i) Mouse(on, QEvent::MouseMove, from + by * i / 40);
  Mouse(on, QEvent::MouseButtonRelease, from + by);
  Spend(400);
}

void WindowWork::Key(const char* what, Qt::Key key, Qt::KeyboardModifiers modifiers, int ms) {
  dog_.Doing(what);
  QWidget* on =
      window_.sheet_view()->isVisible() ? static_cast<QWidget*>(window_.sheet_view()) : window_.easel_view();
  QApplication::postEvent(on, new QKeyEvent(QEvent::KeyPress, key, modifiers));
  Spend(ms);
}

}  // namespace samelight::bench
