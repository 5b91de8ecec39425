// What a person does on the easel.
#include <algorithm>
#include <cmath>

#include <QtGui/QMouseEvent>

#include "window/view/easel_view.h"

namespace samelight::window {
namespace {

constexpr double kWheelZoom = 1.18, kPanStep = 60, kDividerGrab = 10;

}  // namespace

int EaselView::PaneAt(const QPointF& at) const {
  for (std::size_t i = 0; i < easel_->panes().size(); ++i)
    if (easel_->panes()[i].box.contains(at)) return static_cast<int>(i);
  return -1;
}

void EaselView::mousePressEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton) return;
  drag_at_ = e->position();
  if (easel_->way() == Easel::Way::kWipe &&
      Divider().adjusted(-kDividerGrab, 0, kDividerGrab, 0).contains(drag_at_))
    drag_ = Drag::kDivide;
  else if (PaneAt(drag_at_) >= 0 && !easel_->fits())
    drag_ = Drag::kPan;
}

void EaselView::mouseMoveEvent(QMouseEvent* e) {
  const QPointF at = e->position();
  if (drag_ == Drag::kDivide) {
    const QRectF box = easel_->panes()[MainPane()].box;
    divide_ = std::clamp((at.x() - box.left()) / box.width(), 0.0, 1.0);
    return update();
  }
  if (drag_ == Drag::kPan) {
    easel_->Pan(PaneAt(drag_at_), at - drag_at_);
    drag_at_ = at;
    return;
  }
  const bool on_divider = easel_->way() == Easel::Way::kWipe &&
                          Divider().adjusted(-kDividerGrab, 0, kDividerGrab, 0).contains(at);
  setCursor(on_divider                           ? Qt::SplitHCursor
            : !easel_->fits() && PaneAt(at) >= 0 ? Qt::OpenHandCursor
                                                 : Qt::ArrowCursor);
}

void EaselView::mouseReleaseEvent(QMouseEvent*) { drag_ = Drag::kNone; }

void EaselView::mouseDoubleClickEvent(QMouseEvent* e) {
  const int pane = PaneAt(e->position());
  if (pane < 0) return;
  if (easel_->fits())
    easel_->ZoomTo(1, pane, e->position() - easel_->panes()[pane].box.topLeft());
  else
    easel_->Fit();
}

void EaselView::wheelEvent(QWheelEvent* e) {
  const int pane = PaneAt(e->position());
  if (pane < 0) return;
  easel_->ZoomBy(std::pow(kWheelZoom, e->angleDelta().y() / 120.0), pane,
                 e->position() - easel_->panes()[pane].box.topLeft());
  e->accept();
}

void EaselView::keyPressEvent(QKeyEvent* e) {
  const int main = MainPane();
  switch (e->key()) {
    case Qt::Key_Left:
      return easel_->Pan(main, {kPanStep, 0});
    case Qt::Key_Right:
      return easel_->Pan(main, {-kPanStep, 0});
    case Qt::Key_Up:
      return easel_->Pan(main, {0, kPanStep});
    case Qt::Key_Down:
      return easel_->Pan(main, {0, -kPanStep});
    default:
      QWidget::keyPressEvent(e);
  }
}

void EaselView::focusInEvent(QFocusEvent*) { update(); }
void EaselView::focusOutEvent(QFocusEvent*) { update(); }
void EaselView::resizeEvent(QResizeEvent*) { Arrange(); }

}  // namespace samelight::window
