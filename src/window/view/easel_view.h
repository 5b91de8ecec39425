// The easel: pictures side by side, one over the other, or in turn.
#pragma once

#include <vector>

#include <QtCore/QTimer>
#include <QtGui/QImage>
#include <QtWidgets/QWidget>

#include "window/model/easel.h"
#include "window/view/theme.h"

namespace samelight::window {

class EaselRow;

class EaselView : public QWidget {
  Q_OBJECT
 public:
  EaselView(Easel* easel, QWidget* parent = nullptr);
  void SetBands(const theme::Bands& bands);
  // While held: the scan in the frame's place, by turns; the frame as the camera made it.
  void HoldFlicker(bool on);
  void HoldBefore(bool on);
  void SetWay(Easel::Way way);
  void ZoomStep(int by);  // along fit, 50, 100, 200 %
  void ToggleMarks();
  // Part of a picture, in fractions of it.
  struct Outline {
    PhotoId photo;
    QRectF part;
  };
  // Outlines of one region in the pictures; empty: none.
  void SetOutline(std::vector<Outline> outline);

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;
  void mousePressEvent(QMouseEvent*) override;
  void mouseMoveEvent(QMouseEvent*) override;
  void mouseReleaseEvent(QMouseEvent*) override;
  void mouseDoubleClickEvent(QMouseEvent*) override;
  void wheelEvent(QWheelEvent*) override;
  void keyPressEvent(QKeyEvent*) override;
  void focusInEvent(QFocusEvent*) override;
  void focusOutEvent(QFocusEvent*) override;

 private:
  void Arrange();
  void Refresh();
  int PaneAt(const QPointF& at) const;
  int MainPane() const;
  void PaintPane(QPainter& p, const Easel::Pane& pane, const QRectF& box, const QImage& hatch) const;
  void PaintCut(QPainter& p, const Easel::Pane& pane) const;
  void PaintWords(QPainter& p, const Easel::Pane& pane, bool left) const;
  QRectF Divider() const;

  Easel* easel_;
  theme::Bands bands_;
  std::vector<QImage> hatch_;
  EaselRow *full_, *half_, *fit_, *side_, *wipe_, *flicker_, *before_, *marks_;
  bool flicker_on_ = false, other_ = false, before_on_ = false;
  QTimer turn_;
  double divide_ = 0.5;
  enum class Drag { kNone, kPan, kDivide } drag_ = Drag::kNone;
  QPointF drag_at_;
  std::vector<Outline> outline_;
};

}  // namespace samelight::window
