#include "window/view/controls.h"

#include <cmath>

#include <QtCore/QEvent>
#include <QtGui/QFontMetricsF>
#include <QtGui/QPainter>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;

double Advance(const QString& text, const QFont& font) { return QFontMetricsF(font).horizontalAdvance(text); }

}  // namespace

Button::Button(const QString& word, const QString& key, Look look, QWidget* parent)
    : QAbstractButton(parent), key_(key), look_(look) {
  setText(word);
  setAccessibleName(word);
  if (!key.isEmpty()) setAccessibleDescription(tr("key: %1").arg(key));
  setFocusPolicy(Qt::StrongFocus);
  setAttribute(Qt::WA_Hover);
  setSizePolicy(QSizePolicy::Fixed, QSizePolicy::Fixed);
}

void Button::SetKeyShown(bool shown) {
  key_shown_ = shown;
  updateGeometry();
  update();
}

QSize Button::sizeHint() const {
  double w = Advance(text(), Font(13, Weight::kMedium)) + (look_ == Look::kQuiet ? 12 : 26);
  if (key_shown_ && !key_.isEmpty()) w += 8 + Advance(key_, Font(11));
  if (menu_mark_) w += 16;
  return {static_cast<int>(std::ceil(w)), 32};
}

bool Button::event(QEvent* e) {
  if (e->type() == QEvent::EnabledChange || e->type() == QEvent::HoverEnter ||
      e->type() == QEvent::HoverLeave)
    update();
  return QAbstractButton::event(e);
}

void Button::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.setRenderHint(QPainter::Antialiasing);
  const bool hover = underMouse() && isEnabled(), pressed = isDown();
  const QRectF box = QRectF(rect()).adjusted(2.5, 2.5, -2.5, -2.5);
  QColor text = theme::kText1;
  QColor key = on_easel_ ? theme::kText1 : hover || isChecked() ? theme::kText2 : theme::kText3;
  if (look_ == Look::kStrong && isEnabled()) {
    p.setPen(Qt::NoPen);
    p.setBrush(pressed ? theme::kText2 : hover ? theme::kMark : QColor(0xe2, 0xe2, 0xe2));
    p.drawRoundedRect(box.adjusted(-0.5, -0.5, 0.5, 0.5), theme::kButtonRadius, theme::kButtonRadius);
    text = theme::kWell;
    key = QColor(0x4a, 0x4a, 0x4a);
  } else {
    p.setPen(look_ == Look::kQuiet ? QPen(Qt::NoPen)
                                   : QPen(on_easel_     ? theme::kText3
                                          : isEnabled() ? QColor(0x70, 0x70, 0x70)
                                                        : theme::kHairline,
                                          1));
    p.setBrush(pressed       ? QBrush(theme::kWell)
               : hover       ? QBrush(theme::kHover)
               : isChecked() ? QBrush(theme::kHover)
                             : QBrush(Qt::NoBrush));
    p.drawRoundedRect(box, theme::kButtonRadius, theme::kButtonRadius);
  }
  if (!isEnabled()) text = key = theme::kTextOff;
  const QFont& font = Font(13, Weight::kMedium);
  double wide = Advance(this->text(), font);
  if (key_shown_ && !key_.isEmpty()) wide += 8 + Advance(key_, Font(11));
  if (menu_mark_) wide += 14;
  double x = box.center().x() - wide / 2;
  x += DrawText(p, {x, box.top(), box.right() - x, box.height()}, Qt::AlignLeft, this->text(), font, text);
  if (key_shown_ && !key_.isEmpty())
    DrawText(p, {x + 8, box.top(), box.right() - x - 8, box.height()}, Qt::AlignLeft, key_, Font(11), key);
  if (menu_mark_) {
    const QPointF c(x + 10, box.center().y());
    p.setPen(QPen(text, 1.5, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
    p.drawPolyline(QPolygonF{c + QPointF(-3.5, -1.5), c + QPointF(0, 2), c + QPointF(3.5, -1.5)});
  }
  if (hasFocus()) FocusRing(p, box.adjusted(-0.5, -0.5, 0.5, 0.5), theme::kButtonRadius);
}

Count::Count(const QString& word, bool accent, QWidget* parent)
    : QAbstractButton(parent), word_(word), accent_(accent) {
  setCheckable(true);
  setFocusPolicy(Qt::StrongFocus);
  setAttribute(Qt::WA_Hover);
  setSizePolicy(QSizePolicy::Fixed, QSizePolicy::Fixed);
  SetCount(0);
}

void Count::SetCount(int count) {
  count_ = count;
  setAccessibleName(QStringLiteral("%1 %2").arg(count).arg(word_));
  setAccessibleDescription(tr("previous and next walk through these"));
  updateGeometry();
  update();
}

void Count::SetTight(bool tight) {
  tight_ = tight;
  updateGeometry();
}

QSize Count::sizeHint() const {
  return {static_cast<int>(std::ceil(FiguresWidth(QString::number(count_), Font(17, Weight::kStrong)) + 6 +
                                     Advance(word_, Font(13)) + (tight_ ? 10 : 18))),
          32};
}

bool Count::event(QEvent* e) {
  if (e->type() == QEvent::HoverEnter || e->type() == QEvent::HoverLeave) update();
  return QAbstractButton::event(e);
}

void Count::paintEvent(QPaintEvent*) {
  QPainter p(this);
  const QRectF box = QRectF(rect()).adjusted(0, 2, 0, -2);
  p.setRenderHint(QPainter::Antialiasing);
  const double pad = tight_ ? 4 : 8;
  if (underMouse()) {
    p.setPen(Qt::NoPen);
    p.setBrush(theme::kHover);
    p.drawRoundedRect(box, theme::kButtonRadius, theme::kButtonRadius);
  }
  const QString number = QString::number(count_);
  const QFont& big = Font(17, Weight::kStrong);
  // Number and word stand on one baseline.
  const double baseline = std::round(box.center().y() + QFontMetricsF(big).capHeight() / 2);
  const double end = DrawRuns(p, pad, baseline, width() + 2,
                              {{number, big, accent_ && count_ > 0 ? theme::kAccent : theme::kText1},
                               {QStringLiteral(" "), Font(13)},
                               {word_, Font(13),
                                isChecked()    ? theme::kText1
                                : underMouse() ? theme::kText2
                                               : theme::kText3}});
  if (isChecked()) FillCrisp(p, {pad, box.bottom() - 3, end - pad, 1}, theme::kText2);
  if (hasFocus()) FocusRing(p, box.adjusted(2, 2, -2, -2), theme::kButtonRadius);
}

void Check::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.setRenderHint(QPainter::Antialiasing);
  const QRectF box(1.5, std::round(height() / 2.0) - 7.5, 15, 15);
  p.setPen(QPen(isEnabled() ? QColor(0x8c, 0x8c, 0x8c) : theme::kHairline, 1));
  p.setBrush(theme::kWell);
  p.drawRoundedRect(box, theme::kFieldRadius, theme::kFieldRadius);
  if (isChecked()) {
    p.setPen(
        QPen(isEnabled() ? theme::kText1 : theme::kTextOff, 2, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
    p.drawPolyline(QPolygonF{box.topLeft() + QPointF(3.5, 7.5), box.topLeft() + QPointF(6.5, 10.5),
                             box.topLeft() + QPointF(11.5, 4.5)});
  }
  DrawText(p, {26, 0, width() - 26.0, static_cast<double>(height())}, Qt::AlignLeft, text(), Font(13),
           isEnabled() ? theme::kText1 : theme::kTextOff);
  if (hasFocus()) FocusRing(p, box.adjusted(-1, -1, 1, 1), theme::kFieldRadius);
}

void Pick::paintEvent(QPaintEvent* e) {
  QComboBox::paintEvent(e);
  QPainter p(this);
  p.setRenderHint(QPainter::Antialiasing);
  const QPointF c(width() - 15, height() / 2.0);
  p.setPen(
      QPen(isEnabled() ? theme::kText1 : theme::kTextOff, 1.5, Qt::SolidLine, Qt::RoundCap, Qt::RoundJoin));
  p.drawPolyline(QPolygonF{c + QPointF(-3.5, -1.5), c + QPointF(0, 2), c + QPointF(3.5, -1.5)});
}

Label::Label(const QString& text, int px, bool strong, const QColor& colour, QWidget* parent)
    : QWidget(parent), text_(text), px_(px), strong_(strong), colour_(colour) {
  QSizePolicy policy(QSizePolicy::Preferred, QSizePolicy::Preferred);
  policy.setHeightForWidth(true);
  setSizePolicy(policy);
  setAccessibleName(text);
}
void Label::SetText(const QString& text) {
  if (text == text_) return;
  text_ = text;
  setAccessibleName(text);
  updateGeometry();
  update();
}
QSize Label::sizeHint() const {
  const QFontMetrics m(Font(px_, strong_ ? Weight::kStrong : Weight::kRegular));
  const int w = std::min(440, m.horizontalAdvance(text_) + 2);
  return {w, heightForWidth(w)};
}
int Label::heightForWidth(int width) const {
  const QFontMetrics m(Font(px_, strong_ ? Weight::kStrong : Weight::kRegular));
  return m.boundingRect(QRect(0, 0, width, 10000), Qt::TextWordWrap, text_).height() + 2;
}
void Label::paintEvent(QPaintEvent*) {
  QPainter p(this);
  p.setFont(Font(px_, strong_ ? Weight::kStrong : Weight::kRegular));
  p.setPen(isEnabled() ? colour_ : theme::kTextOff);
  p.drawText(rect(), Qt::TextWordWrap | Qt::AlignLeft | Qt::AlignTop, text_);
}

}  // namespace samelight::window
