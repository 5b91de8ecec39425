#include "window/view/plane_view.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>

#include "window/view/paint.h"
#include "window/view/swatch.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;
constexpr double kDot = 5, kDotInHand = 6.5, kGrab = 14;  // px
constexpr double kKeyStep = 0.5, kKeyCoarse = 5;          // of a* and b*
constexpr double kFriction = 0.35;  // of the pointer's way, at the edge of the tolerance

double Hypot(const QPointF& v) { return std::hypot(v.x(), v.y()); }

}  // namespace

PlaneView::PlaneView(Instruments* instruments, QWidget* parent) : QWidget(parent), instruments_(instruments) {
  setFocusPolicy(Qt::StrongFocus);
  setMouseTracking(true);
  setAccessibleName(tr("Hue–chroma plane: arrows move the dot in hand"));
  connect(instruments, &Instruments::changed, this, [this] {
    if (!instruments_->trying()) Rescale();
    update();
  });
  connect(instruments, &Instruments::frameChanged, this, [this] {
    dragging_ = by_key_ = false;
    // The region that stands furthest above its mark is taken in hand.
    int worst = instruments_->regions().empty() ? -1 : 0;
    double most = 0;
    for (int i = 0; i < static_cast<int>(instruments_->regions().size()); ++i) {
      const job::RegionRow& r = instruments_->regions()[i];
      if (r.has_scan && r.now / r.tolerance > most) {
        most = r.now / r.tolerance;
        worst = i;
      }
    }
    row_ = -2;  // another frame's: told in any case
    SetRow(worst);
    Rescale();
    update();
  });
}

QRectF PlaneView::Well() const { return QRectF(rect()).adjusted(3, 3, -3, -3); }

QPointF PlaneView::At(double a, double b) const {
  const QRectF well = Well();
  const double scale = std::min(well.width(), well.height()) / 2 / reach_;
  return well.center() + QPointF(a * scale, -b * scale);
}

QPointF PlaneView::Ab(const QPointF& at) const {
  const QRectF well = Well();
  const double scale = std::min(well.width(), well.height()) / 2 / reach_;
  return {(at.x() - well.center().x()) / scale, -(at.y() - well.center().y()) / scale};
}

QPointF PlaneView::FrameDot(int row) const {
  const job::RegionRow& r = instruments_->regions()[row];
  return At(r.lab_frame[1], r.lab_frame[2]);
}

void PlaneView::Rescale() {
  double most = 14;
  for (const job::RegionRow& r : instruments_->regions()) {
    for (const Vec3* lab : {&r.lab_frame, &r.lab_scan})
      if (lab == &r.lab_frame || r.has_scan)
        most = std::max({most, std::abs((*lab)[1]), std::abs((*lab)[2])});
  }
  reach_ = std::min(90.0, std::ceil(most * 1.25 / 5) * 5);
}

void PlaneView::SetRow(int row) {
  if (row == row_) return;
  row_ = row;
  if (row >= 0 && row < static_cast<int>(instruments_->regions().size())) {
    const job::RegionRow& r = instruments_->regions()[row];
    setAccessibleDescription(tr("%1, a* %2, b* %3%4")
                                 .arg(QString::fromStdString(r.name))
                                 .arg(r.lab_frame[1], 0, 'f', 1)
                                 .arg(r.lab_frame[2], 0, 'f', 1)
                                 .arg(r.has_scan ? tr(", left-over %1").arg(r.now, 0, 'f', 1) : QString()));
  }
  emit rowChanged(row);
  update();
}

void PlaneView::paintEvent(QPaintEvent*) {
  QPainter p(this);
  const QRectF well = Well();
  FillCrisp(p, well, theme::kWell);
  p.save();
  p.setClipRect(well);
  const double grid = reach_ > 50 ? 20 : 10;
  for (double v = grid; v < 130; v += grid)
    for (const double s : {-v, v}) {
      Hairline(p, At(s, 0).x(), well.top(), At(s, 0).x(), well.bottom(), theme::kGround);
      Hairline(p, well.left(), At(0, s).y(), well.right(), At(0, s).y(), theme::kGround);
    }
  Hairline(p, At(0, 0).x(), well.top(), At(0, 0).x(), well.bottom(), theme::kHairline);
  Hairline(p, well.left(), At(0, 0).y(), well.right(), At(0, 0).y(), theme::kHairline);
  const std::vector<job::RegionRow>& rows = instruments_->regions();
  // A word gives way to a dot that lies on it.
  const auto axis = [&](const QRectF& box, Qt::Alignment align, const QString& word) {
    const QRectF near = box.adjusted(-kDot, -kDot, kDot, kDot);
    const bool taken = std::any_of(rows.begin(), rows.end(), [&](const job::RegionRow& r) {
      return near.contains(At(r.lab_frame[1], r.lab_frame[2])) ||
             (r.has_scan && near.contains(At(r.lab_scan[1], r.lab_scan[2])));
    });
    if (!taken) DrawText(p, box, align, word, Font(11), theme::kText3);
  };
  axis({well.center().x() - 62, well.top() + 3, 58, 14}, Qt::AlignRight, tr("yellow"));
  axis({well.center().x() + 5, well.bottom() - 17, 60, 14}, Qt::AlignLeft, tr("blue"));
  axis({well.left() + 6, well.center().y() - 17, 60, 14}, Qt::AlignLeft, tr("green"));
  axis({well.right() - 66, well.center().y() - 17, 60, 14}, Qt::AlignRight, tr("magenta"));

  p.setRenderHint(QPainter::Antialiasing);
  for (int pass = 0; pass < 2; ++pass)
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const bool in_hand = static_cast<int>(i) == row_;
      if (in_hand != (pass == 1)) continue;
      const job::RegionRow& r = rows[i];
      const QColor colour = SwatchOf(r.lab_frame);
      const QPointF frame = FrameDot(static_cast<int>(i)), scan = At(r.lab_scan[1], r.lab_scan[2]);
      QPen dots(theme::kText3, 1);
      dots.setDashPattern({1, 3});
      p.setPen(dots);
      p.setBrush(Qt::NoBrush);
      p.drawLine(At(r.lab_before[1], r.lab_before[2]), frame);
      if (r.has_scan) {
        if (in_hand) {
          QPen ring(theme::kText2, 1);
          ring.setDashPattern({2, 2.5});
          p.setPen(ring);
          const double radius = Hypot(At(r.tolerance, 0) - At(0, 0));
          p.drawEllipse(scan, radius, radius);
        }
        p.setPen(QPen(theme::kText1, in_hand ? 2 : 1.25));
        p.drawLine(scan, frame);
        p.setPen(QPen(SwatchOf(r.lab_scan), 2));
        p.setBrush(theme::kWell);
        p.drawEllipse(scan, kDot, kDot);
      }
      p.setPen(in_hand ? QPen(theme::kMark, 1.75) : QPen(theme::kWell, 1));
      p.setBrush(colour);
      const double dot = in_hand ? kDotInHand : kDot;
      p.drawEllipse(frame, dot, dot);
    }
  PaintNames(p);
  if ((dragging_ || by_key_) && row_ >= 0) PaintTip(p);
  p.restore();
  if (rows.empty())
    DrawText(p, well, Qt::AlignHCenter, instruments_->frame().valid() ? tr("no region known") : QString(),
             Font(12), theme::kText3);
  if (hasFocus()) FocusRing(p, well, 0);
}

// Each name beside its dot where it meets no other: to the right, to the left, then further up or down with a
// line that leads there. That of the region in hand has the first choice; one that finds no place is left
// out.
void PlaneView::PaintNames(QPainter& p) const {
  const QRectF well = Well();
  const std::vector<job::RegionRow>& rows = instruments_->regions();
  std::vector<QRectF> taken = {{well.left(), well.center().y() - 17, 44, 14},
                               {well.right() - 60, well.center().y() - 17, 60, 14},
                               {well.center().x() - 44, well.top() + 3, 40, 14},
                               {well.center().x() + 5, well.bottom() - 17, 28, 14}};
  std::vector<int> order;
  for (int i = 0; i < static_cast<int>(rows.size()); ++i) {
    const QPointF dot = FrameDot(i);
    taken.emplace_back(dot.x() - kDot, dot.y() - kDot, 2 * kDot, 2 * kDot);
    order.insert(i == row_ ? order.begin() : order.end(), i);
  }
  constexpr double kLine = 14, kAway = 11;
  for (const int i : order) {
    const job::RegionRow& r = rows[i];
    const bool in_hand = i == row_;
    const QPointF dot = FrameDot(i), scan = r.has_scan ? At(r.lab_scan[1], r.lab_scan[2]) : dot;
    const QString name = QString::fromStdString(r.name);
    const QFont& font = Font(12, in_hand ? Weight::kStrong : Weight::kRegular);
    const double wide = FiguresWidth(name, font) + 2;
    const double right = std::max(dot.x(), scan.x()) + kAway,
                 left = std::min(dot.x(), scan.x()) - kAway - wide;
    bool found = false;
    for (const double dy :
         {0.0, -kLine, kLine, -2 * kLine, 2 * kLine, -3 * kLine, 3 * kLine, -4 * kLine, 4 * kLine}) {
      for (const double x : {right, left}) {
        const QRectF word(x, dot.y() - 8 + dy, wide, 16);
        if (!well.adjusted(2, 2, -2, -2).contains(word) ||
            std::any_of(taken.begin(), taken.end(),
                        [&](const QRectF& t) { return t.intersects(word.adjusted(0, 2, 0, -2)); }))
          continue;
        if (std::abs(dy) > kLine) {
          const double near = x == right ? word.left() - 2 : word.right() + 2;
          p.setPen(QPen(theme::kHairline, 1));
          p.drawLine(dot, {near, word.center().y()});
        }
        taken.push_back(word);
        DrawText(p, word, Qt::AlignLeft, name, font, in_hand ? theme::kText1 : theme::kText2);
        found = true;
        break;
      }
      if (found) break;
    }
  }
}

void PlaneView::PaintTip(QPainter& p) const {
  const job::RegionRow& r = instruments_->regions()[row_];
  const QString first =
      r.has_scan
          ? tr("%1 %2 → %3").arg(QString::fromStdString(r.name)).arg(was_, 0, 'f', 1).arg(r.now, 0, 'f', 1)
          : QString::fromStdString(r.name);
  const QString second =
      moved_.isEmpty() ? tr("nothing moves") : tr("moves %1").arg(moved_.join(QStringLiteral(", ")));
  const double w =
      std::max(FiguresWidth(first, Font(12, Weight::kStrong)), FiguresWidth(second, Font(11))) + 20;
  const QRectF well = Well();
  QRectF box(0, 0, w, 40);
  const QPointF dot = FrameDot(row_);
  box.moveCenter({dot.x(), dot.y() - 40});
  if (box.top() < well.top() + 4) box.moveTop(dot.y() + 16);
  box.moveLeft(std::clamp(box.left(), well.left() + 4, std::max(well.left() + 4, well.right() - w - 4)));
  p.setPen(QPen(theme::kHairline, 1));
  p.setBrush(QColor(0x14, 0x14, 0x14));
  p.drawRoundedRect(box, theme::kButtonRadius, theme::kButtonRadius);
  DrawText(p, {box.left() + 10, box.top() + 4, w - 20, 16}, Qt::AlignLeft, first, Font(12, Weight::kStrong),
           theme::kText1);
  DrawText(p, {box.left() + 10, box.top() + 20, w - 20, 15}, Qt::AlignLeft, second, Font(11), theme::kText2);
}

int PlaneView::DotAt(const QPointF& at) const {
  int best = -1;
  double nearest = kGrab;
  for (int i = 0; i < static_cast<int>(instruments_->regions().size()); ++i) {
    // The dot in hand lies on top: it wins by a hair.
    const double away = Hypot(FrameDot(i) - at) - (i == row_ ? 3 : 0);
    if (away < nearest) {
      nearest = away;
      best = i;
    }
  }
  return best;
}

void PlaneView::mousePressEvent(QMouseEvent* e) {
  if (e->button() != Qt::LeftButton) return;
  const int row = DotAt(e->position());
  if (row < 0) return;
  SetRow(row);
  const job::RegionRow& r = instruments_->regions()[row];
  dragging_ = true;
  grabbed_ = {r.lab_frame[1], r.lab_frame[2]};
  was_ = r.now;
  offset_ = e->position() - FrameDot(row);
  moved_.clear();
  update();
}

void PlaneView::MoveTo(QPointF ab, Qt::KeyboardModifiers modifiers) {
  const double chroma = Hypot(grabbed_), hue = std::atan2(grabbed_.y(), grabbed_.x());
  if (modifiers & Qt::ShiftModifier) {  // hue stays
    const double along = ab.x() * std::cos(hue) + ab.y() * std::sin(hue);
    ab = {along * std::cos(hue), along * std::sin(hue)};
  } else if (modifiers & Qt::AltModifier) {  // chroma stays
    const double turned = std::atan2(ab.y(), ab.x());
    ab = {chroma * std::cos(turned), chroma * std::sin(turned)};
  }
  const std::vector<record::Handle> moved = instruments_->TryDot(row_, ab.x(), ab.y());
  moved_.clear();
  for (const record::Handle handle : moved) moved_ += QString::fromUtf8(record::FactsOf(handle).name);
  emit this->moved(moved_);
  update();
}

void PlaneView::mouseMoveEvent(QMouseEvent* e) {
  if (!dragging_) {
    setCursor(DotAt(e->position()) >= 0 ? Qt::OpenHandCursor : Qt::ArrowCursor);
    return;
  }
  QPointF ab = Ab(e->position() - offset_);
  const job::RegionRow& r = instruments_->regions()[row_];
  if (r.has_scan) {
    // Light friction at the edge of the tolerance: leaving the ring takes a longer way.
    const QPointF scan(r.lab_scan[1], r.lab_scan[2]);
    const double away = Hypot(ab - scan), edge = r.tolerance, began = Hypot(grabbed_ - scan);
    const double band = 0.6 * edge;
    if (began <= edge && away > edge)
      ab = scan + (ab - scan) / away *
                      (away < edge + band ? edge + (away - edge) * kFriction : away - band * (1 - kFriction));
  }
  MoveTo(ab, e->modifiers());
}

void PlaneView::mouseReleaseEvent(QMouseEvent*) {
  if (!dragging_) return;
  dragging_ = false;
  instruments_->Keep();
  update();
}

void PlaneView::keyPressEvent(QKeyEvent* e) {
  const int count = static_cast<int>(instruments_->regions().size());
  if (e->key() == Qt::Key_Escape && (dragging_ || by_key_)) {
    dragging_ = by_key_ = false;
    instruments_->GiveUp();
    return update();
  }
  QPointF step;
  switch (e->key()) {
    case Qt::Key_Left:
      step = {-1, 0};
      break;
    case Qt::Key_Right:
      step = {1, 0};
      break;
    case Qt::Key_Up:
      step = {0, 1};
      break;
    case Qt::Key_Down:
      step = {0, -1};
      break;
    case Qt::Key_Home:
      return SetRow(count > 0 ? 0 : -1);
    case Qt::Key_Space:
      return count > 0 ? SetRow((row_ + 1) % count) : void();
    default:
      return QWidget::keyPressEvent(e);
  }
  if (row_ < 0 || row_ >= count) return;
  const job::RegionRow& r = instruments_->regions()[row_];
  if (!by_key_) {
    by_key_ = true;
    was_ = r.now;
    grabbed_ = {r.lab_frame[1], r.lab_frame[2]};
  }
  grabbed_ += step * (e->modifiers() & Qt::ShiftModifier ? kKeyCoarse : kKeyStep);
  MoveTo(grabbed_, {});
}

void PlaneView::keyReleaseEvent(QKeyEvent* e) {
  if (by_key_ && !e->isAutoRepeat()) {
    by_key_ = false;
    instruments_->Keep();
    update();
  } else {
    QWidget::keyReleaseEvent(e);
  }
}

void PlaneView::focusOutEvent(QFocusEvent*) {
  if (by_key_) {
    by_key_ = false;
    instruments_->Keep();
  }
  update();
}
void PlaneView::leaveEvent(QEvent*) { setCursor(Qt::ArrowCursor); }

}  // namespace samelight::window
