#include "window/view/tone_view.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QMouseEvent>
#include <QtGui/QPainter>
#include <QtGui/QPainterPath>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
constexpr double kLeastEv = -6, kMostEv = 4, kMostDensity = 2.4;
constexpr double kPxPerStep = 4, kGrab = 12;

QString Minus(const QString& number) { return QString(number).replace(QLatin1Char('-'), QChar(0x2212)); }

}  // namespace

ToneView::ToneView(Instruments* instruments, QWidget* parent) : QWidget(parent), instruments_(instruments) {
  setFocusPolicy(Qt::StrongFocus);
  setMouseTracking(true);
  setAccessibleName(tr("Tone curves: left and right choose a grip, up and down move it"));
  connect(instruments, &Instruments::changed, this, qOverload<>(&QWidget::update));
  connect(instruments, &Instruments::frameChanged, this, qOverload<>(&QWidget::update));
}

QRectF ToneView::Well() const { return QRectF(rect()).adjusted(31, 3, -5, -19); }

QPointF ToneView::At(double ev, double density) const {
  const QRectF well = Well();
  return {well.left() + (ev - kLeastEv) / (kMostEv - kLeastEv) * well.width(),
          well.top() + density / kMostDensity * well.height()};
}

QPointF ToneView::GripAt(int grip) const {
  const job::ToneCurves::Grip& g = instruments_->tone().grips[grip];
  const QPointF at = At(g.ev, g.density);
  const QRectF well = Well();  // what lies beyond the scale can still be taken
  return {std::clamp(at.x(), well.left() + 4, well.right() - 4),
          std::clamp(at.y(), well.top() + 4, well.bottom() - 4)};
}

void ToneView::paintEvent(QPaintEvent*) {
  QPainter p(this);
  const QRectF well = Well();
  const job::ToneCurves& tone = instruments_->tone();
  FillCrisp(p, well, theme::kWell);
  for (double ev = -4; ev <= 2; ev += 2)
    Hairline(p, At(ev, 0).x(), well.top(), At(ev, 0).x(), well.bottom(),
             ev == 0 ? theme::kHairline : theme::kGround);
  for (double d = 0.8; d < 2; d += 0.8)
    Hairline(p, well.left(), At(0, d).y(), well.right(), At(0, d).y(), theme::kGround);
  const QFont& small = Font(11);
  for (const double d : {0.0, 0.8, 1.6, 2.4}) {
    const double y = std::clamp(At(0, d).y(), well.top() + 7, well.bottom() - 4);
    DrawFigures(p, {0, y - 7, 25, 14}, Qt::AlignRight, QString::number(d, 'f', 1), small, theme::kText3);
  }
  for (const int ev : {-6, -4, -2, 0, 2, 4}) {
    const QString text = Minus(ev > 0 ? QStringLiteral("+%1").arg(ev) : QString::number(ev)) +
                         (ev == 4 ? QStringLiteral(" EV") : QString());
    const double x = At(ev, 0).x();
    const Qt::Alignment align = ev == -6 ? Qt::AlignLeft : ev == 4 ? Qt::AlignRight : Qt::AlignHCenter;
    const QRectF box(ev == -6 ? x - 4 : ev == 4 ? x - 46 : x - 20, well.bottom() + 4, ev == 4 ? 50 : 40, 14);
    DrawFigures(p, box, align, text, small, theme::kText3);
  }
  p.save();
  p.setClipRect(well);
  p.setRenderHint(QPainter::Antialiasing);
  const auto path = [&](const std::vector<double>& density) {
    QPainterPath curve;
    bool begun = false;
    for (std::size_t i = 0; i < density.size() && i < tone.ev.size(); ++i) {
      if (!std::isfinite(density[i])) continue;
      const QPointF at = At(tone.ev[i], density[i]);
      begun ? curve.lineTo(at) : curve.moveTo(at);
      begun = true;
    }
    return curve;
  };
  if (!tone.before.empty()) {
    QPen dots(theme::kText3, 1.25);
    dots.setDashPattern({1.5, 2.5});
    p.strokePath(path(tone.before), dots);
  }
  if (!tone.scan.empty()) {
    p.strokePath(path(tone.scan), QPen(theme::kText2, 5, Qt::SolidLine, Qt::FlatCap));
    p.strokePath(path(tone.scan), QPen(theme::kWell, 2.6, Qt::SolidLine, Qt::FlatCap));
  }
  if (!tone.frame.empty()) p.strokePath(path(tone.frame), QPen(theme::kText1, 1.75));
  p.restore();
  p.setRenderHint(QPainter::Antialiasing);
  // The legend stands where the curves are not.
  double y = well.top() + 14, legend_right = well.left();
  const auto legend = [&](const QString& word, int kind) {
    const double x = well.left() + 9;
    if (kind == 0) {
      p.setPen(QPen(theme::kText2, 1.1));
      p.drawLine(QPointF(x, y - 1.7), QPointF(x + 18, y - 1.7));
      p.drawLine(QPointF(x, y + 1.7), QPointF(x + 18, y + 1.7));
    } else if (kind == 1) {
      p.setPen(QPen(theme::kText1, 2));
      p.drawLine(QPointF(x, y), QPointF(x + 18, y));
    } else {
      QPen dots(theme::kText3, 1.25);
      dots.setDashPattern({1.5, 2.5});
      p.setPen(dots);
      p.drawLine(QPointF(x, y), QPointF(x + 18, y));
    }
    DrawText(p, {x + 26, y - 8, 90, 16}, Qt::AlignLeft, word, Font(11),
             kind == 2 ? theme::kText3 : theme::kText1);
    legend_right = std::max(legend_right, x + 26 + FiguresWidth(word, Font(11)) + 4);
    y += 16;
  };
  if (!tone.frame.empty()) {
    if (!tone.scan.empty()) legend(tone.scan_measured ? tr("scan") : tr("full match"), 0);
    legend(tr("frame"), 1);
    legend(tr("before"), 2);
  }
  for (std::size_t i = 0; i < tone.grips.size(); ++i) {
    const QPointF at = GripAt(static_cast<int>(i));
    const bool in_hand = static_cast<int>(i) == grip_ && (dragging_ || hasFocus());
    const QRectF box(at.x() - 4, at.y() - 4, 8, 8);
    p.setPen(QPen(theme::kMark, 1.5));
    p.setBrush(in_hand ? theme::kMark : theme::kWell);
    p.drawRect(box);
    const QString name = QString::fromUtf8(record::FactsOf(tone.grips[i].handle).name);
    const double wide = FiguresWidth(name, small) + 2;
    // The toe's word stands above its grip, the shoulder's below, on the free side of the curve.
    const bool toe = tone.grips[i].handle == record::Handle::kToe,
               shoulder = tone.grips[i].handle == record::Handle::kShoulder;
    QRectF word(at.x() + 9, at.y() + 3, wide, 14);
    if (toe) word.moveTo(at.x() - wide / 2 - 4, at.y() - 21);
    if (shoulder) word.moveTo(at.x() - wide - 9, at.y() - 15);
    if (shoulder && word.left() < legend_right && word.top() < y) word.moveTo(at.x() + 6, at.y() + 5);
    word.moveLeft(
        std::clamp(word.left(), well.left() + 3, std::max(well.left() + 3, well.right() - wide - 3)));
    word.moveTop(std::clamp(word.top(), well.top() + 2, well.bottom() - 16));
    DrawText(p, word, Qt::AlignLeft, name, small, theme::kText2);
  }
  if (hasFocus()) FocusRing(p, well, 0);
}

void ToneView::Try(record::Handle handle, double steps) {
  record::Handles touch = from_;
  record::SetValue(touch, handle, record::ValueOf(from_, handle) + steps * record::FactsOf(handle).step);
  instruments_->Try(touch);
  emit moved({QString::fromUtf8(record::FactsOf(handle).name)});
}

void ToneView::mousePressEvent(QMouseEvent* e) {
  for (int i = 0; i < static_cast<int>(instruments_->tone().grips.size()); ++i) {
    const QPointF away = GripAt(i) - e->position();
    if (std::hypot(away.x(), away.y()) > kGrab) continue;
    grip_ = i;
    dragging_ = true;
    press_at_ = e->position();
    from_ = instruments_->touch();
    return update();
  }
}

void ToneView::mouseMoveEvent(QMouseEvent* e) {
  const job::ToneCurves& tone = instruments_->tone();
  if (!dragging_ || grip_ >= static_cast<int>(tone.grips.size())) {
    bool near = false;
    for (int i = 0; i < static_cast<int>(tone.grips.size()); ++i)
      near |= (GripAt(i) - e->position()).manhattanLength() < kGrab;
    setCursor(near ? Qt::SizeVerCursor : Qt::ArrowCursor);
    return;
  }
  Try(tone.grips[grip_].handle, (press_at_.y() - e->position().y()) / kPxPerStep);
}

void ToneView::mouseReleaseEvent(QMouseEvent*) {
  if (!dragging_) return;
  dragging_ = false;
  instruments_->Keep();
  update();
}

void ToneView::keyPressEvent(QKeyEvent* e) {
  const int count = static_cast<int>(instruments_->tone().grips.size());
  if (count == 0) return QWidget::keyPressEvent(e);
  if (e->key() == Qt::Key_Left || e->key() == Qt::Key_Right) {
    grip_ = std::clamp(grip_ + (e->key() == Qt::Key_Left ? -1 : 1), 0, count - 1);
    return update();
  }
  if (e->key() == Qt::Key_Escape && (dragging_ || by_key_)) {
    dragging_ = by_key_ = false;
    return instruments_->GiveUp();
  }
  if (e->key() != Qt::Key_Up && e->key() != Qt::Key_Down) return QWidget::keyPressEvent(e);
  by_key_ = true;
  from_ = instruments_->touch();
  grip_ = std::min(grip_, count - 1);
  Try(instruments_->tone().grips[grip_].handle,
      (e->key() == Qt::Key_Up ? 1 : -1) * (e->modifiers() & Qt::ShiftModifier ? 10 : 1));
}

void ToneView::keyReleaseEvent(QKeyEvent* e) {
  if (by_key_ && !e->isAutoRepeat()) {
    by_key_ = false;
    instruments_->Keep();
  } else {
    QWidget::keyReleaseEvent(e);
  }
}

void ToneView::focusOutEvent(QFocusEvent*) {
  if (by_key_) {
    by_key_ = false;
    instruments_->Keep();
  }
  update();
}

}  // namespace samelight::window
