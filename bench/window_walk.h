// Walks through the window as a person would: by keys, clicks, drags and drops only.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include <QtCore/QMimeData>
#include <QtGui/QDragEnterEvent>
#include <QtTest/QTest>
#include <QtWidgets/QApplication>

#include "window/view/main_window.h"

namespace samelight::bench {

class WindowWalk {
 public:
  // `shots`: folder for pictures of the window; empty: none are made.
  WindowWalk(window::MainWindow& window, std::filesystem::path shots)
      : window_(window), shots_(std::move(shots)) {}

  // Turns events until `done`, at most `ms`; false: it did not come.
  bool Wait(const std::function<bool()>& done, int ms) { return QTest::qWaitFor(done, ms); }
  void Rest(int ms) { QTest::qWait(ms); }
  // Until a place moves no more.
  void Still(const std::function<QRectF()>& place) {
    for (QRectF before; before != place();) {
      before = place();
      Rest(300);
    }
  }
  // Saves what is seen as NN-name.png.
  void Shot(const std::string& name) {
    if (shots_.empty()) return;
    Rest(60);
    char number[16];
    std::snprintf(number, sizeof number, "%02d", ++count_);
    window_.grab().save(QString::fromStdString((shots_ / (number + ("-" + name) + ".png")).string()));
  }

  void Key(int key, Qt::KeyboardModifiers modifiers = Qt::NoModifier) {
    QTest::keyClick(Target(), static_cast<Qt::Key>(key), modifiers);
  }
  void Hold(int key, bool down) {
    QTest::sendKeyEvent(down ? QTest::Press : QTest::Release, Target(), static_cast<Qt::Key>(key), QString(),
                        Qt::NoModifier);
  }
  void Type(const QString& text) { QTest::keyClicks(Target(), text); }
  void Click(QWidget* on, QPointF at = {-1, -1}, Qt::KeyboardModifiers modifiers = Qt::NoModifier) {
    QTest::mouseClick(on, Qt::LeftButton, modifiers, at.x() < 0 ? on->rect().center() : at.toPoint());
  }
  // Press at `from`, move to `to` in steps; let go with Drop().
  void Drag(QWidget* on, QPointF from, QPointF to, int steps = 8) {
    QTest::mousePress(on, Qt::LeftButton, Qt::NoModifier, from.toPoint());
    for (int i = 1; i <= steps; ++i) Move(on, from + (to - from) * i / steps);
  }
  // A move with the button down (QTest::mouseMove sends none of the buttons).
  void Move(QWidget* on, QPointF at) {
    QMouseEvent move(QEvent::MouseMove, at, on->mapToGlobal(at), Qt::NoButton, Qt::LeftButton,
                     Qt::NoModifier);
    QApplication::sendEvent(on, &move);
    QApplication::processEvents();
  }
  void Drop(QWidget* on, QPointF at) {
    QTest::mouseRelease(on, Qt::LeftButton, Qt::NoModifier, at.toPoint());
  }
  // Folders dropped from outside.
  void DropFolders(QWidget* on, QPointF at, const QStringList& folders) {
    QMimeData mime;
    QList<QUrl> urls;
    for (const QString& folder : folders) urls += QUrl::fromLocalFile(folder);
    mime.setUrls(urls);
    QDragEnterEvent enter(at.toPoint(), Qt::CopyAction, &mime, Qt::LeftButton, Qt::NoModifier);
    QApplication::sendEvent(on, &enter);
    QDragMoveEvent move(at.toPoint(), Qt::CopyAction, &mime, Qt::LeftButton, Qt::NoModifier);
    QApplication::sendEvent(on, &move);
    QDropEvent drop(at, Qt::CopyAction, &mime, Qt::LeftButton, Qt::NoModifier);
    QApplication::sendEvent(on, &drop);
    QApplication::processEvents();
  }
  bool Idle() { return window_.link().desk() && !window_.link().desk()->job(); }

 private:
  QWidget* Target() { return QApplication::focusWidget() ? QApplication::focusWidget() : &window_; }
  window::MainWindow& window_;
  std::filesystem::path shots_;
  int count_ = 0;
};

}  // namespace samelight::bench
