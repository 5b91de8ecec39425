// How far to follow the film: one line from the neutral rendering to the film, with a triangle for each
// region that goes its own way.
#pragma once

#include <QtCore/QTimer>
#include <QtWidgets/QWidget>

#include "window/model/follow_model.h"

namespace samelight::window {

class FollowLine : public QWidget {
  Q_OBJECT
 public:
  FollowLine(FollowModel* model, Instruments* instruments, QWidget* parent = nullptr);
  FollowModel::Level level() const { return level_; }
  void SetLevel(FollowModel::Level level) { level_ = level; }
  double XOf(double percent) const;

 protected:
  void paintEvent(QPaintEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void mouseReleaseEvent(QMouseEvent*) override;
  void mouseDoubleClickEvent(QMouseEvent*) override;
  void wheelEvent(QWheelEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void keyReleaseEvent(QKeyEvent*) override;
  void contextMenuEvent(QContextMenuEvent*) override;
  void dragEnterEvent(QDragEnterEvent*) override;
  void dragMoveEvent(QDragMoveEvent*) override;
  void dropEvent(QDropEvent*) override;
  void focusInEvent(QFocusEvent*) override { update(); }
  void focusOutEvent(QFocusEvent*) override;

 private:
  double Percent(int row) const;
  double PercentAt(double x) const;
  void Keep(int row, double percent);
  void KeepNow();  // what was typed, stepped or turned to

  FollowModel* model_;
  Instruments* instruments_;
  FollowModel::Level level_ = FollowModel::kFrame;
  int row_ = 0;  // in hand
  bool dragging_ = false, by_key_ = false;
  double tried_ = 0;
  QTimer rest_;           // runs since the last notch of the wheel
  QString typed_;         // figures so far
  double own_drop_ = -1;  // while a region is carried over the line
};

}  // namespace samelight::window
