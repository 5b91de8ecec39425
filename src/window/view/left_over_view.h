// The left-over table: per region how far the frame is from its scan, before and now, against its mark.
#pragma once

#include <QtWidgets/QWidget>

#include "window/model/left_over_model.h"
#include "window/view/theme.h"

namespace samelight::window {

class LeftOverView : public QWidget {
  Q_OBJECT
 public:
  LeftOverView(LeftOverModel* model, Instruments* instruments, QWidget* parent = nullptr);
  void SetBands(const theme::Bands& bands);
  void SetRow(int row);
  QRectF RowBox(int row) const;

 signals:
  void rowPointed(int row);  // -1: none
  void rowTaken(int row);

 protected:
  void paintEvent(QPaintEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void wheelEvent(QWheelEvent*) override;
  void leaveEvent(QEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void focusInEvent(QFocusEvent*) override { update(); }
  void focusOutEvent(QFocusEvent*) override { update(); }

 private:
  double RowHeight() const;
  int Visible() const;
  int RowAt(const QPointF& at) const;

  LeftOverModel* model_;
  Instruments* instruments_;
  bool narrow_ = false;
  int row_ = -1, hover_ = -1, first_ = 0;
  QPointF press_at_;
};

// A region that is dragged out of the table onto the follow line.
inline constexpr char kRegionMime[] = "application/x-samelight-region";

}  // namespace samelight::window
