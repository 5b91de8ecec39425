#include "window/view/loom_view.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QMouseEvent>
#include <QtWidgets/QApplication>

namespace samelight::window {
namespace {

constexpr double kGrab = 8;       // px around a ribbon
constexpr double kEdgeGrab = 5;   // px around a light's edge, among the names
constexpr double kSnap = 12;      // px: from here a carried end takes a picture
constexpr double kWheelFrames = 1.5;  // frames for one notch

}  // namespace

LoomView::LoomView(Thumbs* thumbs, QWidget* parent)
    : QWidget(parent), thumbs_(thumbs), bands_(theme::BandsFor(1600, 1000)) {
  setMouseTracking(true);
  setFocusPolicy(Qt::StrongFocus);
  setAccessibleName(tr("Loom: scans above, frames below, ribbons between pairs"));
  setAttribute(Qt::WA_OpaquePaintEvent);
  pleat_.setStartValue(0.0);
  pleat_.setEndValue(1.0);
  pleat_.setEasingCurve(QEasingCurve::OutCubic);
  connect(&pleat_, &QVariantAnimation::valueChanged, this, [this](const QVariant& t) {
    now_ = Between(from_, to_, t.toDouble());
    update();
  });
}

void LoomView::SetBands(const theme::Bands& bands) {
  bands_ = bands;
  setFixedHeight(bands_.loom());
  Relay(false);
}

void LoomView::SetLoom(Loom loom) {
  const bool same_shape = loom.frames.size() == loom_.frames.size() && loom.scans.size() == loom_.scans.size() &&
                          loom.lights.size() == loom_.lights.size();
  loom_ = std::move(loom);
  carry_.reset();
  edge_.reset();
  hover_ = {};
  ribbon_ = -1;
  if (!same_shape) {
    frame_ = scan_ = -1;
    selection_.clear();
    shut_or_open_.assign(loom_.lights.size(), -1);
    gaze_.at = std::min(gaze_.at, std::max(0.0, static_cast<double>(loom_.frames.size()) - 1));
  }
  Relay(false);
}

void LoomView::SetInHand(int frame, int scan) {
  frame_ = frame;
  scan_ = scan;
  if (frame >= 0)
    LookAt(frame, true);
  else if (scan >= 0)
    // A scan without a frame: look at the middle of its light.
    LookAt(loom_.lights[loom_.scans[scan].light].first_frame + loom_.lights[loom_.scans[scan].light].frames / 2.0, true);
  update();
}

void LoomView::SetSelection(std::set<int> frames) {
  selection_ = std::move(frames);
  emit selectionChanged();
  update();
}

void LoomView::SetHint(const QString& hint) {
  hint_ = hint;
  update();
}

void LoomView::FocusPart(Part part) {
  part_ = part;
  setFocus(Qt::TabFocusReason);
  update();
}

int LoomView::LightOfGaze() const {
  if (loom_.frames.empty()) return loom_.lights.empty() ? -1 : 0;
  const int at = std::clamp(static_cast<int>(gaze_.at + 0.5), 0, static_cast<int>(loom_.frames.size()) - 1);
  return loom_.frames[at].light;
}

void LoomView::Relay(bool animated) {
  gaze_.width = std::max(100, width() - bands_.gutter);
  gaze_.strip_height = bands_.strip;
  gaze_.pleat.assign(loom_.lights.size(), 0);
  shut_or_open_.resize(loom_.lights.size(), -1);
  const int light = LightOfGaze();
  for (std::size_t i = 0; i < gaze_.pleat.size(); ++i)
    gaze_.pleat[i] = shut_or_open_[i] >= 0 ? shut_or_open_[i] : static_cast<int>(i) == light ? 1 : 0;
  to_ = LayOutLoom(loom_, gaze_);
  // What is looked at stays at the same part of the width when not all of it fits.
  scroll_ = 0;
  if (to_.total > gaze_.width + 1 && !to_.frames.empty()) {
    const std::size_t at = std::clamp<std::size_t>(static_cast<std::size_t>(gaze_.at + 0.5), 0, to_.frames.size() - 1);
    scroll_ = std::clamp(to_.frames[at].centre() - gaze_.width / 2, 0.0, to_.total - gaze_.width);
  }
  pleat_.stop();
  if (animated && theme::Motion() && now_.frames.size() == to_.frames.size()) {
    from_ = now_;
    pleat_.setDuration(theme::kPleatMs);
    pleat_.start();
  } else {
    now_ = to_;
    update();
  }
}

void LoomView::LookAt(double at, bool animated) {
  const int before = LightOfGaze();
  gaze_.at = std::clamp(at, 0.0, std::max(0.0, static_cast<double>(loom_.frames.size()) - 1));
  const int light = LightOfGaze();
  // A pleat that was shut by hand opens again when it is walked into.
  if (light != before && light >= 0 && shut_or_open_[light] == 0) shut_or_open_[light] = -1;
  Relay(animated);
}

QRectF LoomView::FrameBox(int frame) const {
  return {X(now_.frames[frame].x), Y(4), now_.frames[frame].w, static_cast<double>(bands_.strip)};
}
QRectF LoomView::ScanBox(int scan) const {
  return {X(now_.scans[scan].x), Y(2), now_.scans[scan].w, static_cast<double>(bands_.strip)};
}
QRectF LoomView::LightBox(int light) const {
  return {X(now_.lights[light].x), 0, now_.lights[light].w, static_cast<double>(bands_.names)};
}
RibbonEnds LoomView::EndsOf(int ribbon) const {
  const LoomRibbon& r = loom_.ribbons[ribbon];
  return {{X(now_.scans[r.scan].centre()), Y(3)}, {X(now_.frames[r.frame].centre()), Y(4)}};
}

int LoomView::RibbonOfScan(int scan) const {
  for (std::size_t i = 0; i < loom_.ribbons.size(); ++i)
    if (loom_.ribbons[i].scan == scan) return static_cast<int>(i);
  return -1;
}
int LoomView::RibbonOfFrame(int frame) const {
  for (std::size_t i = 0; i < loom_.ribbons.size(); ++i)
    if (loom_.ribbons[i].frame == frame) return static_cast<int>(i);
  return -1;
}

LoomView::Spot LoomView::SpotAt(const QPointF& at) const {
  if (at.x() < bands_.gutter) return {};
  const double x = at.x() - bands_.gutter + scroll_;
  if (at.y() < Y(2)) {
    for (std::size_t i = 1; i < now_.lights.size(); ++i)
      if (std::abs(now_.lights[i].x - 1.5 - x) <= kEdgeGrab) return {Kind::kEdge, static_cast<int>(i) - 1};
    const int light = SpanAt(now_.lights, x);
    return light < 0 ? Spot{} : Spot{Kind::kLight, light};
  }
  const int light = SpanAt(now_.lights, x);
  if (light < 0) return {};
  if (now_.open[light] < 0.5) return {Kind::kLight, light};
  if (at.y() < Y(3)) {
    const int scan = SpanAt(now_.scans, x);
    return scan < 0 ? Spot{} : Spot{Kind::kScan, scan};
  }
  if (at.y() >= Y(4)) {
    const int frame = SpanAt(now_.frames, x);
    return frame < 0 ? Spot{} : Spot{Kind::kFrame, frame};
  }
  for (int k = loom_.lights[light].first_scan; k < loom_.lights[light].first_scan + loom_.lights[light].scans; ++k)
    if (RibbonOfScan(k) < 0 && std::abs(now_.scans[k].centre() - x) < kGrab && at.y() < Y(3) + 3 * kGrab)
      return {Kind::kLoose, k};
  Spot best;
  double nearest = kGrab;
  for (std::size_t i = 0; i < loom_.ribbons.size(); ++i) {
    double along = 0;
    const double distance = RibbonDistance(EndsOf(static_cast<int>(i)), at, &along);
    if (distance < nearest) {
      nearest = distance;
      best = {Kind::kRibbon, static_cast<int>(i), along};
    }
  }
  return best;
}

void LoomView::mousePressEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton) return;
  pressed_ = SpotAt(e->position());
  press_at_ = e->position();
  if (e->position().y() < Y(3)) part_ = Part::kScans;
  else part_ = e->position().y() < Y(4) ? Part::kRibbons : Part::kFrames;
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
      edge_->x = edge_->frame < static_cast<int>(now_.frames.size()) ? now_.frames[edge_->frame].x : span.x + span.w;
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
    hover_ = spot;
    setCursor(spot.kind == Kind::kEdge                                      ? Qt::SplitHCursor
              : spot.kind == Kind::kRibbon || spot.kind == Kind::kLoose ? Qt::OpenHandCursor
                                                                        : Qt::ArrowCursor);
    update();
  }
}

void LoomView::EndCarry(bool tie) {
  const Carry carry = *carry_;
  carry_.reset();
  update();
  if (!tie || carry.target < 0) return;
  const int scan = carry.scan >= 0 ? carry.scan : carry.target;
  const int frame = carry.scan >= 0 ? carry.target : carry.frame;
  if (carry.ribbon >= 0 && loom_.ribbons[carry.ribbon].scan == scan && loom_.ribbons[carry.ribbon].frame == frame) return;
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
    case Kind::kLoose: emit scanTaken(spot.index); break;
    case Kind::kFrame: TakeFrame(spot.index, e->modifiers()); break;
    case Kind::kRibbon: emit alternativesWanted(spot.index, e->globalPosition().toPoint()); break;
    case Kind::kLight: {
      const LoomLight& light = loom_.lights[spot.index];
      const bool is_open = now_.open[spot.index] > 0.5;
      if (is_open && e->position().y() < Y(1)) {
        shut_or_open_[spot.index] = 0;
        Relay(true);
      } else if (!is_open) {
        shut_or_open_[spot.index] = -1;
        const int nearest = NearestSpan(now_.frames, e->position().x() - bands_.gutter + scroll_);
        LookAt(std::clamp(nearest, light.first_frame, std::max(light.first_frame, light.first_frame + light.frames - 1)), true);
        if (LightOfGaze() != spot.index) {
          shut_or_open_[spot.index] = 1;  // a light without frames
          Relay(true);
        }
      }
      break;
    }
    default: break;
  }
}

void LoomView::mouseDoubleClickEvent(QMouseEvent* e) { mousePressEvent(e); }

void LoomView::contextMenuEvent(QContextMenuEvent* e) {
  const QPointF at = e->reason() == QContextMenuEvent::Keyboard && frame_ >= 0 ? FrameBox(frame_).center() : QPointF(e->pos());
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
    const int next = std::clamp((frame_ < 0 ? static_cast<int>(gaze_.at) : frame_ + by), 0, static_cast<int>(loom_.frames.size()) - 1);
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
    case Qt::Key_Left: return StepAlong(-1, extend);
    case Qt::Key_Right: return StepAlong(1, extend);
    case Qt::Key_Home: return StepAlong(-1000000, false);
    case Qt::Key_End: return StepAlong(1000000, false);
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
    default: break;
  }
  QWidget::keyPressEvent(e);
}

bool LoomView::focusNextPrevChild(bool next) {
  const int part = static_cast<int>(part_) + (next ? 1 : -1);
  if (part < 0 || part > 2) return QWidget::focusNextPrevChild(next);
  part_ = static_cast<Part>(part);
  if (part_ == Part::kRibbons && ribbon_ < 0) ribbon_ = scan_ >= 0 ? RibbonOfScan(scan_) : RibbonOfFrame(frame_);
  update();
  return true;
}

void LoomView::focusInEvent(QFocusEvent* e) {
  if (e->reason() == Qt::TabFocusReason && !(QApplication::mouseButtons() & Qt::LeftButton)) part_ = Part::kScans;
  if (e->reason() == Qt::BacktabFocusReason) part_ = Part::kFrames;
  update();
}
void LoomView::focusOutEvent(QFocusEvent*) {
  if (carry_ && carry_->by_key) carry_.reset();
  update();
}
void LoomView::leaveEvent(QEvent*) {
  hover_ = {};
  update();
}
void LoomView::resizeEvent(QResizeEvent*) { Relay(false); }

}  // namespace samelight::window
