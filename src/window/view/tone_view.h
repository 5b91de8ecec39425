// The tone curves of scan and frame as density against exposure; three grips bend the frame's.
#pragma once

#include <optional>

#include <QtWidgets/QWidget>

#include "window/model/instruments.h"

namespace samelight::window {

class ToneView : public QWidget {
  Q_OBJECT
 public:
  ToneView(Instruments* instruments, QWidget* parent = nullptr);
  QPointF GripAt(int grip) const;

 signals:
  void moved(const QStringList& handles);

 protected:
  void paintEvent(QPaintEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void mouseReleaseEvent(QMouseEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void keyReleaseEvent(QKeyEvent*) override;
  void focusInEvent(QFocusEvent*) override { update(); }
  void focusOutEvent(QFocusEvent*) override;

 private:
  QRectF Well() const;
  QPointF At(double ev, double density) const;
  void Try(record::Handle handle, double steps);

  Instruments* instruments_;
  int grip_ = 1;
  bool dragging_ = false, by_key_ = false;
  QPointF press_at_;
  record::Handles from_;
};

}  // namespace samelight::window
