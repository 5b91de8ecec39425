// What a person does on the loom.
#include <algorithm>
#include <cmath>

#include <QtGui/QMouseEvent>
#include <QtWidgets/QApplication>

#include "window/view/loom_view.h"

namespace samelight::window {
namespace {

constexpr double kSnap = 12;          // px: from here a carried end takes a picture
constexpr double kWheelFrames = 1.5;  // frames for one notch

}  // namespace

void LoomView::mousePressEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton) return;
  pressed_ = SpotAt(e->position());
  press_at_ = e->position();
  if (e->position().y() < Y(3))
    part_ = Part::kScans;
  else
    part_ = e->position().y() < Y(4) ? Part::kRibbons : Part::kFrames;
  if (pressed_->kind == Kind::kRibbon) ribbon_ = pressed_->index;
  update();
}

void LoomView::SetCarryTarget(const QPointF& at) {
  carry_->at = at;
  const bool to_frame = carry_->scan >= 0;
  const double x = at.x() - bands_.gutter + scroll_;
  const bool near = to_frame ? at.y() > Y(4) - kSnap : at.y() < Y(3) + kSnap;
  carry_->target = near ? SpanAt(to_frame ? now_.frames : now_.scans, x) : -1;
  update();
}

void LoomView::mouseMoveEvent(QMouseEvent* e) {
  const QPointF at = e->position();
  if (carry_) return SetCarryTarget(at);
  if (edge_) {
    const double x = at.x() - bands_.gutter + scroll_;
    edge_->frame = NearestSpan(now_.frames, x + 0.5);
    if (edge_->frame >= 0) {
      const LoomSpan& span = now_.frames[edge_->frame];
      if (x > span.centre()) ++edge_->frame;
      edge_->x =
          edge_->frame < static_cast<int>(now_.frames.size()) ? now_.frames[edge_->frame].x : span.x + span.w;
    }
    return update();
  }
  if (pressed_ && (e->buttons() & Qt::LeftButton) && (at - press_at_).manhattanLength() > 4) {
    if (pressed_->kind == Kind::kRibbon) {
      const LoomRibbon& r = loom_.ribbons[pressed_->index];
      Carry carry;
      carry.ribbon = pressed_->index;
      (pressed_->along > 0.5 ? carry.scan : carry.frame) = pressed_->along > 0.5 ? r.scan : r.frame;
      carry_ = carry;
      return SetCarryTarget(at);
    }
    if (pressed_->kind == Kind::kLoose) {
      Carry carry;
      carry.scan = pressed_->index;
      carry_ = carry;
      return SetCarryTarget(at);
    }
    if (pressed_->kind == Kind::kEdge) {
      edge_ = EdgeCarry{pressed_->index, 0, -1};
      return;
    }
  }
  const Spot spot = SpotAt(at);
  if (!(spot == hover_)) {
    SetHover(spot);
    setCursor(spot.kind == Kind::kEdge                                  ? Qt::SplitHCursor
              : spot.kind == Kind::kRibbon || spot.kind == Kind::kLoose ? Qt::OpenHandCursor
                                                                        : Qt::ArrowCursor);
  }
}

void LoomView::EndCarry(bool tie) {
  const Carry carry = *carry_;
  carry_.reset();
  update();
  if (!tie || carry.target < 0) return;
  const int scan = carry.scan >= 0 ? carry.scan : carry.target;
  const int frame = carry.scan >= 0 ? carry.target : carry.frame;
  if (carry.ribbon >= 0 && loom_.ribbons[carry.ribbon].scan == scan &&
      loom_.ribbons[carry.ribbon].frame == frame)
    return;
  emit pairWanted(scan, frame);
}

void LoomView::TakeFrame(int frame, Qt::KeyboardModifiers modifiers) {
  if (modifiers & Qt::ControlModifier) {
    std::set<int> next = selection_;
    if (!next.erase(frame)) next.insert(frame);
    return SetSelection(std::move(next));
  }
  if ((modifiers & Qt::ShiftModifier) && frame_ >= 0) {
    std::set<int> next;
    for (int k = std::min(frame, frame_); k <= std::max(frame, frame_); ++k) next.insert(k);
    return SetSelection(std::move(next));
  }
  if (!selection_.empty()) SetSelection({});
  emit frameTaken(frame);
}

void LoomView::mouseReleaseEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton) return;
  const std::optional<Spot> pressed = pressed_;
  pressed_.reset();
  if (carry_) return EndCarry(true);
  if (edge_) {
    const EdgeCarry edge = *edge_;
    edge_.reset();
    update();
    if (edge.frame >= 0) emit edgeWanted(edge.left, edge.frame);
    return;
  }
  const Spot spot = SpotAt(e->position());
  if (!pressed || !(spot == *pressed)) return;
  switch (spot.kind) {
    case Kind::kScan:
      emit scanTaken(spot.index);
      break;
    case Kind::kLoose:
      emit scanTaken(spot.index);
      if (loom_.scans[spot.index].undecided)
        emit alternativesWanted(spot.index, e->globalPosition().toPoint());
      break;
    case Kind::kFrame:
      TakeFrame(spot.index, e->modifiers());
      break;
    case Kind::kRibbon:
      emit alternativesWanted(loom_.ribbons[spot.index].scan, e->globalPosition().toPoint());
      break;
    case Kind::kLight: {
      const LoomLight& light = loom_.lights[spot.index];
      const bool is_open = now_.open[spot.index] > 0.5;
      if (is_open && e->position().y() < Y(1)) {
        shut_or_open_[spot.index] = 0;
        Relay(true);
      } else if (!is_open) {
        shut_or_open_[spot.index] = -1;
        const int nearest = NearestSpan(now_.frames, e->position().x() - bands_.gutter + scroll_);
        LookAt(std::clamp(nearest, light.first_frame,
                          std::max(light.first_frame, light.first_frame + light.frames - 1)),
               true);
        if (LightOfGaze() != spot.index) {
          shut_or_open_[spot.index] = 1;  // a light without frames
          Relay(true);
        }
      }
      break;
    }
    default:
      break;
  }
}

void LoomView::mouseDoubleClickEvent(QMouseEvent* e) { mousePressEvent(e); }

void LoomView::contextMenuEvent(QContextMenuEvent* e) {
  const QPointF at = e->reason() == QContextMenuEvent::Keyboard && frame_ >= 0 ? FrameBox(frame_).center()
                                                                               : QPointF(e->pos());
  const double x = at.x() - bands_.gutter + scroll_;
  const int light = SpanAt(now_.lights, x);
  if (light < 0) return;
  const int frame = at.y() >= Y(4) && at.y() < Y(5) ? SpanAt(now_.frames, x) : -1;
  const int scan = at.y() >= Y(1) && at.y() < Y(3) ? SpanAt(now_.scans, x) : -1;
  emit menuWanted(light, scan, frame, mapToGlobal(at.toPoint()));
}

void LoomView::wheelEvent(QWheelEvent* e) {
  const double notches = (e->angleDelta().y() != 0 ? e->angleDelta().y() : e->angleDelta().x()) / 120.0;
  if (e->modifiers() & Qt::ControlModifier) {
    const int light = SpanAt(now_.lights, e->position().x() - bands_.gutter + scroll_);
    if (light < 0) return;
    shut_or_open_[light] = std::clamp(gaze_.pleat[light] + 0.25 * notches, 0.0, 2.0);
    if (gaze_.pleat[light] < 0.5 && shut_or_open_[light] >= 0.5) {
      const int nearest = NearestSpan(now_.frames, e->position().x() - bands_.gutter + scroll_);
      if (nearest >= 0 && loom_.frames[nearest].light == light) gaze_.at = nearest;
    }
    Relay(true);
  } else {
    LookAt(gaze_.at - kWheelFrames * notches, true);
  }
  e->accept();
}

void LoomView::StepAlong(int by, bool extend) {
  if (part_ == Part::kFrames && !loom_.frames.empty()) {
    const int next = std::clamp((frame_ < 0 ? static_cast<int>(gaze_.at) : frame_ + by), 0,
                                static_cast<int>(loom_.frames.size()) - 1);
    if (extend) {
      std::set<int> chosen = selection_;
      if (frame_ >= 0) chosen.insert(frame_);
      chosen.insert(next);
      SetSelection(std::move(chosen));
    }
    emit frameTaken(next);
  } else if (part_ == Part::kScans && !loom_.scans.empty()) {
    emit scanTaken(std::clamp(scan_ + by, 0, static_cast<int>(loom_.scans.size()) - 1));
  } else if (part_ == Part::kRibbons && !loom_.ribbons.empty()) {
    if (carry_) {
      const bool to_frame = carry_->scan >= 0;
      const int count = static_cast<int>(to_frame ? loom_.frames.size() : loom_.scans.size());
      carry_->target = std::clamp(carry_->target + by, 0, count - 1);
      if (to_frame) LookAt(carry_->target, true);
      return update();
    }
    ribbon_ = std::clamp(ribbon_ + by, 0, static_cast<int>(loom_.ribbons.size()) - 1);
    emit scanTaken(loom_.ribbons[ribbon_].scan);
  }
}

void LoomView::keyPressEvent(QKeyEvent* e) {
  const bool extend = e->modifiers() & Qt::ShiftModifier;
  switch (e->key()) {
    case Qt::Key_Left:
      return StepAlong(-1, extend);
    case Qt::Key_Right:
      return StepAlong(1, extend);
    case Qt::Key_Home:
      return StepAlong(-1000000, false);
    case Qt::Key_End:
      return StepAlong(1000000, false);
    case Qt::Key_Space:
      if (part_ == Part::kRibbons && ribbon_ >= 0 && !carry_) {
        Carry carry;
        carry.ribbon = ribbon_;
        carry.scan = loom_.ribbons[ribbon_].scan;
        carry.target = loom_.ribbons[ribbon_].frame;
        carry.by_key = true;
        carry_ = carry;
        return update();
      }
      if (part_ == Part::kScans && scan_ >= 0 && RibbonOfScan(scan_) < 0) {
        Carry carry;
        carry.scan = scan_;
        carry.target = NearestSpan(now_.frames, now_.scans[scan_].centre());
        carry.by_key = true;
        carry_ = carry;
        part_ = Part::kRibbons;
        return update();
      }
      if (part_ == Part::kFrames && frame_ >= 0) return TakeFrame(frame_, Qt::ControlModifier);
      break;
    case Qt::Key_Return:
    case Qt::Key_Enter:
      if (carry_) return EndCarry(true);
      break;
    case Qt::Key_Escape:
      if (carry_ || edge_) {
        carry_.reset();
        edge_.reset();
        pressed_.reset();
        return update();
      }
      if (!selection_.empty()) return SetSelection({});
      break;
    case Qt::Key_Delete: {
      const int ribbon = part_ == Part::kRibbons && ribbon_ >= 0 ? ribbon_ : RibbonOfScan(scan_);
      if (ribbon >= 0) emit cutWanted(loom_.ribbons[ribbon].scan, loom_.ribbons[ribbon].frame);
      return;
    }
    default:
      break;
  }
  QWidget::keyPressEvent(e);
}

void LoomView::ToPart(Part part) {
  part_ = part;
  if (part_ == Part::kRibbons && ribbon_ < 0 && (scan_ >= 0 || frame_ >= 0))
    ribbon_ = scan_ >= 0 ? RibbonOfScan(scan_) : RibbonOfFrame(frame_);
  update();
}

bool LoomView::focusNextPrevChild(bool next) {
  const int part = static_cast<int>(part_) + (next ? 1 : -1);
  if (part < 0 || part > 2) return QWidget::focusNextPrevChild(next);
  ToPart(static_cast<Part>(part));
  return true;
}

void LoomView::focusInEvent(QFocusEvent* e) {
  if (e->reason() == Qt::TabFocusReason && !(QApplication::mouseButtons() & Qt::LeftButton))
    part_ = Part::kScans;
  if (e->reason() == Qt::BacktabFocusReason) part_ = Part::kFrames;
  update();
}
void LoomView::focusOutEvent(QFocusEvent*) {
  if (carry_ && carry_->by_key) carry_.reset();
  update();
}
void LoomView::leaveEvent(QEvent*) { SetHover({}); }
void LoomView::resizeEvent(QResizeEvent*) { Relay(false); }

}  // namespace samelight::window
