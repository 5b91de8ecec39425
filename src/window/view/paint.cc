#include "window/view/paint.h"

#include <algorithm>
#include <cmath>

#include <QtGui/QFontMetricsF>
#include <QtGui/QImage>

namespace samelight::window {
namespace {

double Snap(double v, double ratio) { return std::round(v * ratio) / ratio; }

double Baseline(const QRectF& box, const QFontMetricsF& metrics) {
  return std::round(box.center().y() + metrics.capHeight() / 2);
}

double FigureAdvance(const QFontMetricsF& metrics) { return metrics.horizontalAdvance(QLatin1Char('0')); }

}  // namespace

double DrawText(QPainter& p, const QRectF& box, Qt::Alignment align, const QString& text, const QFont& font,
                const QColor& colour) {
  if (text.isEmpty() || box.width() <= 0) return 0;
  const QFontMetricsF metrics(font);
  QString shown = text;
  double width = metrics.horizontalAdvance(text);
  if (width > box.width() + 0.5) {
    shown = metrics.elidedText(text, Qt::ElideRight, box.width());
    width = metrics.horizontalAdvance(shown);
  }
  double x = box.left();
  if (align & Qt::AlignRight) x = box.right() - width;
  if (align & Qt::AlignHCenter) x = box.center().x() - width / 2;
  p.setFont(font);
  p.setPen(colour);
  p.drawText(QPointF(std::round(x), Baseline(box, metrics)), shown);
  return width;
}

double DrawRuns(QPainter& p, double x, double baseline, double right, const std::vector<Run>& runs) {
  for (const Run& run : runs) {
    const QFontMetricsF metrics(run.font);
    double width = metrics.horizontalAdvance(run.text);
    QString text = run.text;
    const bool cut = x + width > right;
    if (cut) {
      text = metrics.elidedText(text, Qt::ElideRight, right - x);
      width = metrics.horizontalAdvance(text);
    }
    p.setFont(run.font);
    p.setPen(run.colour);
    p.drawText(QPointF(x, baseline), text);
    x += width;
    if (cut) break;
  }
  return x;
}

double FiguresWidth(const QString& text, const QFont& font) {
  const QFontMetricsF metrics(font);
  double width = 0;
  for (const QChar c : text) width += c.isDigit() ? FigureAdvance(metrics) : metrics.horizontalAdvance(c);
  return width;
}

void DrawFigures(QPainter& p, const QRectF& box, Qt::Alignment align, const QString& text, const QFont& font,
                 const QColor& colour) {
  const QFontMetricsF metrics(font);
  const double cell = FigureAdvance(metrics), width = FiguresWidth(text, font);
  double x = box.left();
  if (align & Qt::AlignRight) x = box.right() - width;
  if (align & Qt::AlignHCenter) x = box.center().x() - width / 2;
  const double y = Baseline(box, metrics);
  p.setFont(font);
  p.setPen(colour);
  for (const QChar c : text) {
    const double own = metrics.horizontalAdvance(c), advance = c.isDigit() ? cell : own;
    p.drawText(QPointF(x + (advance - own) / 2, y), QString(c));
    x += advance;
  }
}

QColor Mixed(const QColor& ground, const QColor& colour, double share) {
  const auto mix = [share](float a, float b) { return a + (b - a) * static_cast<float>(share); };
  return QColor::fromRgbF(mix(ground.redF(), colour.redF()), mix(ground.greenF(), colour.greenF()),
                          mix(ground.blueF(), colour.blueF()));
}

void FillCrisp(QPainter& p, const QRectF& box, const QColor& colour) {
  const double r = p.device()->devicePixelRatioF();
  const double x = Snap(box.left(), r), y = Snap(box.top(), r);
  p.fillRect(QRectF(x, y, Snap(box.right(), r) - x, Snap(box.bottom(), r) - y), colour);
}

void Hairline(QPainter& p, double x1, double y1, double x2, double y2, const QColor& colour) {
  const double r = p.device()->devicePixelRatioF();
  if (x1 == x2)
    p.fillRect(QRectF(Snap(x1, r), Snap(y1, r), 1, Snap(y2, r) - Snap(y1, r)), colour);
  else
    p.fillRect(QRectF(Snap(x1, r), Snap(y1, r), Snap(x2, r) - Snap(x1, r), 1), colour);
}

void FocusRing(QPainter& p, const QRectF& box, double radius) {
  p.save();
  p.setRenderHint(QPainter::Antialiasing);
  p.setPen(QPen(theme::kAccent, 2));
  p.setBrush(Qt::NoBrush);
  p.drawRoundedRect(box.adjusted(-1, -1, 1, 1), radius + 1, radius + 1);
  p.restore();
}

void InHandFrame(QPainter& p, const QRectF& box) {
  const auto ring = [&](double inset, double width, const QColor& colour) {
    const QRectF outer = box.adjusted(inset, inset, -inset, -inset);
    FillCrisp(p, {outer.left(), outer.top(), outer.width(), width}, colour);
    FillCrisp(p, {outer.left(), outer.bottom() - width, outer.width(), width}, colour);
    FillCrisp(p, {outer.left(), outer.top(), width, outer.height()}, colour);
    FillCrisp(p, {outer.right() - width, outer.top(), width, outer.height()}, colour);
  };
  ring(0, 2, theme::kMark);
  ring(2, 1, QColor(0, 0, 0));
}

void DrawSlit(QPainter& p, const QRectF& box, const QImage& picture) {
  if (picture.isNull() || box.width() <= 0 || box.height() <= 0) return;
  const double r = p.device()->devicePixelRatioF();
  const double x = Snap(box.left(), r), y = Snap(box.top(), r);
  const double wide = Snap(box.right(), r) - x, high = Snap(box.bottom(), r) - y;
  const double w = picture.width(), h = picture.height();
  // A thumbnail is kept at the height that it is drawn at: a strip of it is copied, not scaled.
  if (std::abs(h - high * r) < 0.5 && wide * r <= w) {
    const double cut = std::floor((w - wide * r) / 2);
    p.drawImage(QRectF(x, y, wide, high), picture, QRectF(cut, 0, std::round(wide * r), h));
    return;
  }
  const double aspect = wide / high;
  const double cut_w = std::min(w, h * aspect), cut_h = std::min(h, w / aspect);
  p.drawImage(QRectF(x, y, wide, high), picture, QRectF((w - cut_w) / 2, (h - cut_h) / 2, cut_w, cut_h));
}

}  // namespace samelight::window
