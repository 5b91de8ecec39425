// What a person does by hand in an open session, for counting turns. Each event is posted, so that the turn
// that takes it is counted, and the loop sleeps between turns as the program's does.
#pragma once

#include "bench/turns.h"
#include "window/view/main_window.h"

namespace samelight::bench {

class WindowWork {
 public:
  WindowWork(window::MainWindow& window, Watchdog& dog) : window_(window), dog_(dog) {}

  // Some way along the loom and back; pleats are opened and shut, frames taken in hand, the pointer wanders.
  void WalkLoom();
  // From the first picture to the last and back.
  void WalkWholeLoom();
  // Frames are settled and that is taken back: the book changes.
  void SettleAndUndo();
  // Fields, dots, the share of skin, ways to look, the sheet, a carry.
  void Touch();

 private:
  void Spend(int ms);
  void Wheel(int notches, Qt::KeyboardModifiers modifiers);
  void Wander(int step);
  void Mouse(QWidget* on, QEvent::Type type, QPointF at);
  void Drag(const char* what, QWidget* on, QPointF from, QPointF by);
  void Key(const char* what, Qt::Key key, Qt::KeyboardModifiers modifiers, int ms = 900);
  window::MainWindow& window_;
  Watchdog& dog_;
};

}  // namespace samelight::bench
