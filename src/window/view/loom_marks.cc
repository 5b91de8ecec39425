// What lies over the loom: marks of rolls, the pair in hand, a ribbon that is carried.
#include <algorithm>
#include <cmath>

#include <QtGui/QPainter>

#include "window/view/loom_view.h"
#include "window/view/paint.h"

namespace samelight::window {

using theme::Font;
using theme::Weight;

void LoomView::PaintRollMarks(QPainter& p) const {
  const double y = Y(1), h = bands_.edge;
  double free_from = -1e9;
  for (std::size_t k = 0; k < loom_.scans.size(); ++k) {
    const double x = X(now_.scans[k].x), w = now_.scans[k].w;
    const bool begins = k == 0 || loom_.scans[k].roll != loom_.scans[k - 1].roll;
    const bool new_light = k > 0 && loom_.scans[k].light != loom_.scans[k - 1].light;
    if (x > width() || x + w < bands_.gutter) continue;
    if (begins && !(new_light && x < free_from)) {
      const QString name = QString::fromStdString(loom_.rolls[loom_.scans[k].roll]);
      FillCrisp(p, {x, y, 1, h + bands_.strip}, theme::kText1);
      const double right =
          std::min(x + 6 + FiguresWidth(name, Font(11)),
                   X(now_.lights[loom_.scans[k].light].x + now_.lights[loom_.scans[k].light].w) - 4);
      if (right - x > 24)
        DrawText(p, {x + 5, y, right - x - 5, h}, Qt::AlignLeft, name, Font(11), theme::kText1);
      free_from = right + 6;
      continue;
    }
    const bool in_hand = static_cast<int>(k) == scan_;
    const QString label = QString::fromStdString(loom_.scans[k].label);
    const QFont& font = Font(11, in_hand ? Weight::kStrong : Weight::kRegular);
    const double wide = FiguresWidth(label, font);
    const double left = x + w / 2 - wide / 2;
    if (now_.open[loom_.scans[k].light] < 0.6 || (!in_hand && (w < wide + 4 || left < free_from))) continue;
    DrawFigures(p, {left - 4, y, wide + 8, h}, Qt::AlignHCenter, label, font,
                in_hand ? theme::kText1 : theme::kText2);
    free_from = left + wide + 6;
  }
}

void LoomView::PaintInHand(QPainter& p) {
  const auto box = [&](bool scans, int k) {
    const LoomSpan& span = scans ? now_.scans[k] : now_.frames[k];
    const double least = 8;
    const double w = std::max(least, span.w);
    return QRectF(X(span.centre()) - w / 2 - 1, Y(scans ? 2 : 4) - 1, w + 1, bands_.strip + 2);
  };
  p.setRenderHint(QPainter::Antialiasing);
  const int tied = scan_ >= 0 ? RibbonOfScan(scan_) : -1;
  if (tied >= 0 && !(carry_ && carry_->ribbon == tied))
    PaintRibbon(p, loom_.ribbons[tied], EndsOf(tied), theme::kMark);
  if (ribbon_ >= 0 && hasFocus() && part_ == Part::kRibbons && !carry_)
    p.strokePath(RibbonOutline(EndsOf(ribbon_), RibbonThickness(loom_.ribbons[ribbon_].confidence) + 5),
                 QPen(theme::kMark, 1));
  if (scan_ >= 0) InHandFrame(p, box(true, scan_));
  if (frame_ >= 0) InHandFrame(p, box(false, frame_));
}

void LoomView::PaintCarry(QPainter& p) {
  const bool to_frame = carry_->scan >= 0;
  const std::vector<LoomSpan>& spans = to_frame ? now_.frames : now_.scans;
  const double top = Y(3), bottom = Y(4);
  p.setRenderHint(QPainter::Antialiasing);
  if (carry_->ribbon >= 0) {
    QPen ghost(theme::kRibbon, 1);
    ghost.setDashPattern({4, 4});
    p.strokePath(RibbonLine(EndsOf(carry_->ribbon)), ghost);
  }
  QPointF loose = carry_->at;
  if (carry_->target >= 0) {
    const LoomSpan& span = spans[carry_->target];
    loose.setX(X(span.centre()));
    loose.setY(to_frame ? bottom - 7 : top + 7);
    const double w = std::max(span.w, bands_.strip * 0.8);
    const QRectF box(X(span.centre()) - w / 2, Y(to_frame ? 4 : 2) + (to_frame ? -7 : 7), w, bands_.strip);
    FillCrisp(p, box, theme::kRail);
    const PhotoId id = to_frame ? loom_.frames[carry_->target].id : loom_.scans[carry_->target].id;
    if (const QImage* picture = thumbs_->Get(id)) DrawSlit(p, box, *picture);
    p.setPen(QPen(theme::kMark, 1.5));
    p.setBrush(Qt::NoBrush);
    p.drawRect(box);
  }
  const double fixed =
      to_frame ? X(now_.scans[carry_->scan].centre()) : X(now_.frames[carry_->frame].centre());
  const RibbonEnds ends = to_frame ? RibbonEnds{{fixed, top}, loose} : RibbonEnds{loose, {fixed, bottom}};
  const double confidence = carry_->ribbon >= 0 ? loom_.ribbons[carry_->ribbon].confidence : 0.7;
  p.fillPath(RibbonOutline(ends, std::max(3.0, RibbonThickness(confidence))), theme::kMark);
  p.setPen(QPen(theme::kMark, 2));
  p.setBrush(theme::kLoom);
  p.drawEllipse(loose, kKnotRadius, kKnotRadius);
  if (carry_->target < 0 || !tip_) return;
  const QString tip = to_frame ? tip_(carry_->scan, carry_->target) : tip_(carry_->target, carry_->frame);
  if (tip.isEmpty()) return;
  const QStringList lines = tip.split(QLatin1Char('\n'));
  double w = 0;
  for (const QString& line : lines) w = std::max(w, FiguresWidth(line, Font(12, Weight::kStrong)));
  const double h = 10 + 17 * static_cast<double>(lines.size());
  QRectF box(loose.x() + 14, loose.y() - h / 2 - 6, w + 22, h);
  if (box.right() > width() - 8) box.moveRight(loose.x() - 14);
  box.moveTop(std::clamp(box.top(), 2.0, height() - h - 2.0));
  p.setPen(Qt::NoPen);
  p.setBrush(theme::kWell);
  p.drawRoundedRect(box, theme::kButtonRadius, theme::kButtonRadius);
  for (int i = 0; i < lines.size(); ++i)
    DrawText(p, {box.left() + 11, box.top() + 5 + 17.0 * i, box.width() - 22, 17}, Qt::AlignLeft, lines[i],
             Font(12, i == 0 ? Weight::kStrong : Weight::kRegular), i == 0 ? theme::kText1 : theme::kText2);
}

}  // namespace samelight::window
