#include "window/view/easel_row.h"

#include <QtCore/QEvent>
#include <QtGui/QPainter>

#include "window/view/paint.h"

namespace samelight::window {

EaselRow::EaselRow(const QString& word, const QString& key, Mark mark, bool right_aligned, QWidget* parent)
    : QAbstractButton(parent), key_(key), mark_(mark), right_(right_aligned) {
  setText(word);
  setCheckable(true);
  setAccessibleName(word);
  if (!key.isEmpty()) setAccessibleDescription(tr("key: %1").arg(key));
  setFocusPolicy(Qt::TabFocus);
  setAttribute(Qt::WA_Hover);
}

bool EaselRow::event(QEvent* e) {
  if (e->type() == QEvent::HoverEnter || e->type() == QEvent::HoverLeave) update();
  return QAbstractButton::event(e);
}

void EaselRow::paintEvent(QPaintEvent*) {
  QPainter p(this);
  const QFont& font = theme::Font(12, isChecked() ? theme::Weight::kStrong : theme::Weight::kRegular);
  if (underMouse()) {
    p.setRenderHint(QPainter::Antialiasing);
    p.setPen(Qt::NoPen);
    p.setBrush(QColor(255, 255, 255, 22));
    p.drawRoundedRect(QRectF(rect()), theme::kFieldRadius, theme::kFieldRadius);
  }
  const double h = height();
  if (right_) {
    DrawFigures(p, {0, 0, width() - 4.0, h}, Qt::AlignRight, text(), font, theme::kText1);
  } else {
    DrawText(p, {26, 0, width() - 52.0, h}, Qt::AlignLeft, text(), font, theme::kText1);
    DrawText(p, {width() - 30.0, 0, 22, h}, Qt::AlignHCenter, key_, theme::Font(11), theme::kText1);
  }
  p.setRenderHint(QPainter::Antialiasing, false);
  p.setPen(QPen(theme::kText1, 1));
  p.setBrush(Qt::NoBrush);
  const double y = std::round(h / 2) - 5;
  switch (mark_) {
    case Mark::kSide:
      p.fillRect(QRectF(4, y, 6, 10), theme::kText1);
      p.drawRect(QRectF(11, y, 5, 9));
      break;
    case Mark::kWipe:
      p.drawRect(QRectF(4, y, 12, 9));
      p.drawLine(QPointF(10, y - 2), QPointF(10, y + 11));
      break;
    case Mark::kFlicker:
      p.drawPolyline(QPolygonF{QPointF(4, y + 6), QPointF(4, y), QPointF(13, y)});
      p.drawRect(QRectF(7, y + 3, 9, 6));
      break;
    case Mark::kBefore: {
      QPen dots(theme::kText1, 1);
      dots.setDashPattern({2, 2});
      p.setPen(dots);
      p.drawRect(QRectF(4, y, 12, 9));
      break;
    }
    case Mark::kHatch:
      p.setRenderHint(QPainter::Antialiasing);
      for (int i = 0; i < 4; ++i)
        p.drawLine(QPointF(4 + 4 * i, y + 9), QPointF(8 + 4 * i - (i == 3 ? 1 : 0), y + (i == 3 ? 1 : 0)));
      break;
    case Mark::kNone:
      break;
  }
  if (hasFocus()) {
    p.setPen(QPen(theme::kMark, 2));
    p.setRenderHint(QPainter::Antialiasing);
    p.drawRoundedRect(QRectF(rect()).adjusted(1, 1, -1, -1), theme::kFieldRadius, theme::kFieldRadius);
  }
}

}  // namespace samelight::window
