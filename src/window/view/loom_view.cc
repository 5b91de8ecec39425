#include "window/view/loom_view.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace samelight::window {
namespace {

constexpr double kGrab = 8;      // px around a ribbon
constexpr double kEdgeGrab = 5;  // px around a light's edge, among the names

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
  kept_.assign(loom_.lights.size(), {});
  setFixedHeight(bands_.loom());
  Relay(false);
}

void LoomView::SetLoom(Loom loom) {
  // Most often a frame or two are told otherwise: all else stays as it is painted, and what is being carried
  // stays in the hand.
  const std::optional<std::vector<char>> differ = LightsThatDiffer(loom_, loom);
  const bool same_shape = loom.frames.size() == loom_.frames.size() &&
                          loom.scans.size() == loom_.scans.size() &&
                          loom.lights.size() == loom_.lights.size();
  loom_ = std::move(loom);
  ties_ = TiesOf(loom_);
  if (differ) {
    for (std::size_t i = 0; i < differ->size(); ++i) {
      if (!(*differ)[i]) continue;
      kept_[i] = {};
      UpdateLight(static_cast<int>(i));
    }
    return;
  }
  carry_.reset();
  edge_.reset();
  ribbon_ = -1;
  kept_.assign(loom_.lights.size(), {});
  light_of_.clear();
  for (const LoomScan& scan : loom_.scans) light_of_[scan.id] = scan.light;
  for (const LoomFrame& frame : loom_.frames) light_of_[frame.id] = frame.light;
  hover_ = {};
  if (!same_shape) {
    frame_ = scan_ = -1;
    selection_.clear();
    shut_or_open_.assign(loom_.lights.size(), -1);
    gaze_.at = std::min(gaze_.at, std::max(0.0, static_cast<double>(loom_.frames.size()) - 1));
  }
  Relay(false);
}

void LoomView::UpdateLight(int light) {
  // Ribbons that lead to another light and the frame around the pair in hand lie a little beyond it.
  constexpr double kBeyond = 8;
  if (!ties_.astray.empty()) return update();
  const LoomSpan& span = now_.lights[light];
  update(QRectF(X(span.x) - kBeyond, 0, span.w + 2 * kBeyond, height()).toAlignedRect());
}

void LoomView::SetHover(const Spot& spot) {
  if (spot == hover_) return;
  const Spot was = std::exchange(hover_, spot);
  for (const Spot& one : {was, spot}) {
    if (one.kind == Kind::kLight) UpdateLight(one.index);
    if (one.kind == Kind::kFrame) UpdateLight(loom_.frames[one.index].light);
    if (one.kind == Kind::kScan) UpdateLight(loom_.scans[one.index].light);
  }
}

void LoomView::SetInHand(int frame, int scan) {
  // What is in hand already does not pull the look back to it.
  if (frame == frame_ && scan == scan_) return;
  for (const int of : {scan_, scan})  // the ribbon in hand is drawn over its light
    if (of >= 0) kept_[loom_.scans[of].light] = {};
  frame_ = frame;
  scan_ = scan;
  QStringList told;
  if (frame >= 0)
    told += tr("frame %1 of %2")
                .arg(QString::fromStdString(loom_.frames[frame].label),
                     QString::fromStdString(loom_.lights[loom_.frames[frame].light].name));
  if (scan >= 0)
    told += tr("scan %1 of %2")
                .arg(QString::fromStdString(loom_.scans[scan].label),
                     QString::fromStdString(loom_.rolls[loom_.scans[scan].roll]));
  const int ribbon = scan >= 0 ? RibbonOfScan(scan) : -1;
  if (ribbon >= 0) told += tr("tied with confidence %1").arg(loom_.ribbons[ribbon].confidence, 0, 'f', 2);
  setAccessibleDescription(told.join(QStringLiteral(", ")));
  if (frame >= 0)
    LookAt(frame, true);
  else if (scan >= 0)
    // A scan without a frame: look at the middle of its light.
    LookAt(loom_.lights[loom_.scans[scan].light].first_frame +
               loom_.lights[loom_.scans[scan].light].frames / 2.0,
           true);
  update();
}

void LoomView::ThumbCame(PhotoId photo) {
  if (const auto of = light_of_.find(photo); of != light_of_.end()) kept_[of->second] = {};
}

void LoomView::SetSelection(std::set<int> frames) {
  selection_ = std::move(frames);
  kept_.assign(loom_.lights.size(), {});
  update();
}

void LoomView::SetHint(const QString& hint) {
  hint_ = hint;
  update();
}

void LoomView::FocusPart(Part part) {
  setFocus(Qt::TabFocusReason);
  ToPart(part);  // the focus alone would begin at the scans
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
    const std::size_t at =
        std::clamp<std::size_t>(static_cast<std::size_t>(gaze_.at + 0.5), 0, to_.frames.size() - 1);
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

QPointF LoomView::EndOfScan(int scan) const { return {X(now_.scans[scan].centre()), Y(3)}; }

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
  for (int k = loom_.lights[light].first_scan; k < loom_.lights[light].first_scan + loom_.lights[light].scans;
       ++k)
    if (RibbonOfScan(k) < 0 && std::abs(now_.scans[k].centre() - x) < kGrab && at.y() < Y(3) + 3 * kGrab)
      return {Kind::kLoose, k};
  Spot best;
  double nearest = kGrab;
  const auto look = [&](int i) {
    double along = 0;
    const double distance = RibbonDistance(EndsOf(i), at, &along);
    if (distance < nearest) {
      nearest = distance;
      best = {Kind::kRibbon, i, along};
    }
  };
  for (const int i : ties_.of_light[light]) look(i);
  if (best.kind == Kind::kNothing)
    for (const int i : ties_.astray) look(i);
  return best;
}

}  // namespace samelight::window
