// The hue-chroma plane: each region of scan and frame as a dot; the frame's dots can be drawn to where they
// should be.
#pragma once

#include <optional>
#include <vector>

#include <QtWidgets/QWidget>

#include "window/model/instruments.h"

namespace samelight::window {

class PlaneView : public QWidget {
  Q_OBJECT
 public:
  PlaneView(Instruments* instruments, QWidget* parent = nullptr);
  // The region that is pointed at elsewhere; -1: none.
  void SetRow(int row);
  int row() const { return row_; }
  QPointF FrameDot(int row) const;  // where it is drawn
  QPointF At(double a, double b) const;

 signals:
  void rowChanged(int row);
  void moved(const QStringList& handles);

 protected:
  void paintEvent(QPaintEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void mouseReleaseEvent(QMouseEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void keyReleaseEvent(QKeyEvent*) override;
  void leaveEvent(QEvent*) override;
  void focusInEvent(QFocusEvent*) override { update(); }
  void focusOutEvent(QFocusEvent*) override;

 private:
  QRectF Well() const;
  QPointF Ab(const QPointF& at) const;
  void Rescale();
  int DotAt(const QPointF& at) const;
  void MoveTo(QPointF ab, Qt::KeyboardModifiers modifiers);
  void PaintNames(QPainter& p) const;
  void PaintTip(QPainter& p) const;

  Instruments* instruments_;
  double reach_ = 40;  // a* and b* at the edge of the well
  int row_ = -1;
  bool dragging_ = false, by_key_ = false;
  QPointF grabbed_;  // a*, b* of the dot at the start
  QPointF offset_;   // px from the dot to the pointer
  double was_ = 0;   // left-over at the start
  QStringList moved_;
};

}  // namespace samelight::window
