// How the loom is drawn.
#include <algorithm>
#include <cmath>
#include <utility>

#include <QtGui/QPaintEvent>
#include <QtGui/QPainter>

#include "window/view/loom_view.h"
#include "window/view/paint.h"

namespace samelight::window {
namespace {

using theme::Font;
using theme::Weight;

constexpr double kLeastSlit = 2;       // px: narrower slits are skipped evenly
constexpr double kLeastThreadGap = 3;  // px between carried threads of an open light
constexpr double kLeastFoldedGap = 6;  // px between threads and ribbons of a folded one
constexpr double kLeastNamed = 44;     // px: a light that is narrower has no room for its name
constexpr double kDimmed = 0.4;
constexpr double kLooseStem = 7, kLooseRing = 3.2;

}  // namespace

double LoomView::Y(int part) const {
  const int heights[] = {bands_.names,   bands_.edge,  bands_.strip,
                         bands_.ribbons, bands_.strip, bands_.left_over};
  double y = 0;
  for (int i = 0; i < part; ++i) y += heights[i];
  return y;
}

// Only what is open dims: a folded light stays as it is.
bool LoomView::Dimmed(int scan) const {
  if (now_.open[loom_.scans[scan].light] < 0.5) return false;
  if (hover_.kind == Kind::kFrame) return loom_.frames[hover_.index].follows != scan;
  if (hover_.kind == Kind::kScan) return hover_.index != scan;
  return false;
}

void LoomView::paintEvent(QPaintEvent* e) {
  QPainter p(this);
  p.setRenderHint(QPainter::SmoothPixmapTransform);
  p.fillRect(e->rect(), theme::kLoom);
  p.save();
  p.setClipRect(QRectF(bands_.gutter, 0, width() - bands_.gutter, height()));
  for (int i = 0; i < static_cast<int>(loom_.lights.size()); ++i) {
    const LoomSpan& span = now_.lights[i];
    if (X(span.x + span.w) < std::max(bands_.gutter, e->rect().left()) ||
        X(span.x) > std::min(width(), e->rect().right() + 1))
      continue;
    PaintKept(p, i);
  }
  const auto empty = [&](int part, const std::string& words) {
    DrawText(p, {bands_.gutter + 16.0, Y(part), width() - bands_.gutter - 32.0, Y(part + 1) - Y(part)},
             Qt::AlignLeft, QString::fromStdString(words), Font(13, Weight::kMedium), theme::kText1);
  };
  empty(2, loom_.no_scans);
  empty(4, loom_.no_frames);
  PaintRollMarks(p);
  PaintInHand(p);
  if (carry_) PaintCarry(p);
  if (edge_) {
    const double x = X(edge_->x);
    FillCrisp(p, {x - 1, 0, 2, static_cast<double>(height())}, theme::kMark);
  }
  if (!hint_.isEmpty()) {
    const QRectF band(bands_.gutter, Y(3), width() - bands_.gutter, bands_.ribbons);
    const double w = FiguresWidth(hint_, Font(12)) + 32;
    const QRectF tip(band.center().x() - w / 2, band.center().y() - 14, w, 28);
    p.setRenderHint(QPainter::Antialiasing);
    p.setPen(Qt::NoPen);
    p.setBrush(theme::kWell);
    p.drawRoundedRect(tip, theme::kButtonRadius, theme::kButtonRadius);
    DrawText(p, tip, Qt::AlignHCenter, hint_, Font(12), theme::kText1);
  }
  p.restore();
  if (e->rect().left() < bands_.gutter) PaintGutter(p);
}

void LoomView::PaintWhole(QPainter& p, int i) {
  PaintLight(p, i);
  PaintStrip(p, i, true);
  PaintStrip(p, i, false);
  PaintThreads(p, i);
  PaintLeftOver(p, i);
}

// A folded light that lies wholly in view is drawn once and copied from then on: a day of sixty lights would
// cost every turn of a walk.
void LoomView::PaintKept(QPainter& p, int i) {
  const LoomSpan& span = now_.lights[i];
  const double x = std::floor(X(span.x));
  if (now_.open[i] > 0 || X(span.x) < bands_.gutter || X(span.x + span.w) > width() + 0.5 || carry_)
    return PaintWhole(p, i);
  Kept& kept = kept_[i];
  const double r = devicePixelRatioF();
  if (kept.picture.isNull() || kept.w != span.w || kept.picture.devicePixelRatio() != r) {
    kept.w = span.w;
    kept.picture = QPixmap(
        QSize(static_cast<int>(std::ceil((span.w + 1) * r)), static_cast<int>(std::ceil(height() * r))));
    kept.picture.setDevicePixelRatio(r);
    kept.picture.fill(theme::kLoom);
    QPainter of_light(&kept.picture);
    of_light.setRenderHint(QPainter::SmoothPixmapTransform);
    of_light.translate(-x, 0);
    const Spot hover = std::exchange(hover_, {});
    PaintWhole(of_light, i);
    hover_ = hover;
  }
  p.drawPixmap(QPointF(x, 0), kept.picture);
  if (hover_ == Spot{Kind::kLight, i}) PaintHover(p, i);
}

void LoomView::PaintHover(QPainter& p, int light) const {
  const LoomSpan& span = now_.lights[light];
  FillCrisp(p, {X(span.x), 0, span.w - 3, static_cast<double>(bands_.names)}, QColor(255, 255, 255, 14));
}

void LoomView::PaintGutter(QPainter& p) const {
  FillCrisp(p, {0, 0, static_cast<double>(bands_.gutter), static_cast<double>(height())}, theme::kGround);
  const double right = bands_.gutter - 10;
  const auto label = [&](int part, const QString& name, int count, Part focus) {
    const double middle = (Y(part) + Y(part + 1)) / 2;
    const bool here = hasFocus() && part_ == focus;
    DrawText(p, {4, middle - 17, right - 4, 17}, Qt::AlignRight, name,
             Font(12, here ? Weight::kStrong : Weight::kRegular), theme::kText1);
    DrawFigures(p, {4, middle + 1, right - 4, 15}, Qt::AlignRight, QString::number(count), Font(11),
                here ? theme::kText1 : theme::kText3);
    if (here) FillCrisp(p, {0, Y(part) + 1, 2, Y(part + 1) - Y(part) - 2}, theme::kMark);
  };
  label(2, tr("scans"), static_cast<int>(loom_.scans.size()), Part::kScans);
  label(3, tr("pairs"), static_cast<int>(loom_.ribbons.size()), Part::kRibbons);
  label(4, tr("frames"), static_cast<int>(loom_.frames.size()), Part::kFrames);
  DrawText(p, {4, Y(5), right - 4, Y(6) - Y(5)}, Qt::AlignRight, tr("left-over"), Font(12), theme::kText1);
}

void LoomView::PaintLight(QPainter& p, int i) const {
  const LoomLight& light = loom_.lights[i];
  const LoomSpan& span = now_.lights[i];
  const double x = X(span.x), w = span.w - 3, open = now_.open[i];
  FillCrisp(p, {x, 0, w, static_cast<double>(height())}, theme::LightTint(light.mired, open));
  FillCrisp(p, {x, Y(2), w, static_cast<double>(bands_.strip)}, theme::kRail);
  FillCrisp(p, {x, Y(4), w, static_cast<double>(bands_.strip)}, theme::kRail);
  if (hover_ == Spot{Kind::kLight, i}) PaintHover(p, i);
  const QString name = QString::fromStdString(light.name), warmth = QString::fromStdString(light.warmth);
  const double left = x + 6 + 4 * open, right = x + w - 4;
  if (open > 0.5) {
    const QString rest =
        tr("%1 scans, %2 frames%3")
            .arg(light.scans)
            .arg(light.frames)
            .arg(light.when.empty() ? QString() : tr(", ") + QString::fromStdString(light.when)) +
        (light.coloured_lamps ? tr(", coloured lamps: kept out of the look") : QString());
    DrawRuns(p, left, std::round(bands_.names / 2.0 + 5), right,
             {{name + QStringLiteral("  "), Font(14, Weight::kStrong)},
              {warmth + QStringLiteral("    "), Font(14, Weight::kMedium)},
              {rest, Font(12), theme::kText2}});
  } else if (w >= kLeastNamed) {  // what is cut to a letter or two tells nothing, and cutting costs
    DrawText(p, {left, 3, right - left, 16}, Qt::AlignLeft, name, Font(12, Weight::kMedium), theme::kText1);
    DrawText(p, {left, 18, right - left, 15}, Qt::AlignLeft, warmth, Font(11), theme::kText2);
  }
}

void LoomView::PaintStrip(QPainter& p, int light, bool scans) {
  const LoomLight& of = loom_.lights[light];
  const int first = scans ? of.first_scan : of.first_frame, count = scans ? of.scans : of.frames;
  const std::vector<LoomSpan>& spans = scans ? now_.scans : now_.frames;
  const double y = Y(scans ? 2 : 4) + 1, h = bands_.strip - 2;
  double drawn_to = -1e9;
  for (int k = first; k < first + count; ++k) {
    const double x = X(spans[k].x), w = spans[k].w;
    if (x + w < bands_.gutter || x > width()) continue;
    if (x + w < drawn_to + kLeastSlit) continue;
    const double left = std::max(x, drawn_to), gap = w > 6 ? 1.0 : 0.0;
    const QRectF box(left, y, std::max(kLeastSlit, x + w - left - gap), h);
    drawn_to = x + w;
    if (const QImage* picture = thumbs_->Get(scans ? loom_.scans[k].id : loom_.frames[k].id)) {
      // A slit that is wider than its picture shows all of it, not a part blown up.
      const double natural = h * (scans ? loom_.scans[k].aspect : loom_.frames[k].aspect);
      const double spare = std::max(0.0, box.width() - natural) / 2;
      DrawSlit(p, box.adjusted(spare, 0, -spare, 0), *picture);
    }
    if (!scans && selection_.contains(k))
      FillCrisp(p, {box.left(), box.bottom() - 3, box.width(), 3}, theme::kMark);
    const Kind kind = scans ? Kind::kScan : Kind::kFrame;
    if (hover_ == Spot{kind, k} && !carry_) {
      p.setPen(QPen(QColor(255, 255, 255, 190), 1));
      p.setBrush(Qt::NoBrush);
      p.setRenderHint(QPainter::Antialiasing, false);
      p.drawRect(QRectF(box.left(), box.top(), box.width() - 1, box.height() - 1));
    }
  }
}

void LoomView::PaintRibbon(QPainter& p, const LoomRibbon& ribbon, const RibbonEnds& ends,
                           const QColor& colour) const {
  const double open = now_.open[loom_.scans[ribbon.scan].light];
  const double full = RibbonThickness(ribbon.confidence), folded = 0.5 + 0.9 * ribbon.confidence;
  const double thickness = folded + (full - folded) * open;
  if (ribbon.confidence < kWeakConfidence && !ribbon.by_hand) {
    QPen pen(colour, std::max(1.0, 0.6 * open + thickness), Qt::CustomDashLine, Qt::FlatCap);
    pen.setDashPattern({5 / pen.widthF(), 3 / pen.widthF()});
    p.strokePath(RibbonLine(ends), pen);
  } else if (thickness < 2) {
    p.strokePath(RibbonLine(ends), QPen(colour, thickness));
  } else {
    p.fillPath(RibbonOutline(ends, thickness), colour);
  }
  if (ribbon.by_hand && open > 0.5) {
    const QPointF middle = RibbonPoint(ends, 0.5);
    p.setPen(QPen(colour, 2));
    p.setBrush(theme::LightTint(loom_.lights[loom_.scans[ribbon.scan].light].mired, open));
    p.drawEllipse(middle, kKnotRadius, kKnotRadius);
  }
}

void LoomView::PaintThreads(QPainter& p, int light) const {
  const LoomLight& of = loom_.lights[light];
  const double open = now_.open[light], top = Y(3), bottom = Y(4);
  p.setRenderHint(QPainter::Antialiasing);
  // Carried threads first: they lie under the ribbons. Those that look alike are drawn as one path.
  // While a pleat moves, few threads are enough for the eye.
  const bool moving = pleat_.state() == QAbstractAnimation::Running;
  const double gap = open < 0.5 ? (moving ? 4 : 1) * kLeastFoldedGap : kLeastThreadGap;
  double last = -1e9;
  std::vector<char> tied(of.frames, 0);
  for (int k = 0; k < of.frames; ++k) tied[k] = RibbonOfFrame(of.first_frame + k) >= 0;
  QPainterPath threads, dim_threads;
  for (int k = of.first_frame; k < of.first_frame + of.frames; ++k) {
    const int scan = loom_.frames[k].follows;
    if (scan < 0 || tied[k - of.first_frame]) continue;
    const double x = X(now_.frames[k].centre());
    const bool bright = hover_ == Spot{Kind::kFrame, k};
    if (x < bands_.gutter || x > width() || (x - last < gap && !bright)) continue;
    last = x;
    const RibbonEnds ends{{X(now_.scans[scan].centre()), top}, {x, bottom}};
    if (bright)
      p.strokePath(RibbonLine(ends), QPen(theme::kMark, 1.25));
    else
      (Dimmed(scan) ? dim_threads : threads).addPath(RibbonLine(ends));
  }
  const QColor ground = theme::LightTint(of.mired, open);
  const double strength = 0.45 + 0.3 * open;
  if (!threads.isEmpty()) p.strokePath(threads, QPen(Mixed(ground, theme::kRibbon, strength), 0.75));
  if (!dim_threads.isEmpty())
    p.strokePath(dim_threads, QPen(Mixed(ground, theme::kRibbon, strength * kDimmed), 0.75));
  double last_ribbon = -1e9;
  QPainterPath folded;
  for (const int i : ties_.of_light[light]) {
    const LoomRibbon& r = loom_.ribbons[i];
    if (r.scan == scan_) continue;
    const RibbonEnds ends{{X(now_.scans[r.scan].centre()), top}, {X(now_.frames[r.frame].centre()), bottom}};
    if (std::max(ends.top.x(), ends.bottom.x()) < bands_.gutter ||
        std::min(ends.top.x(), ends.bottom.x()) > width())
      continue;
    if (carry_ && carry_->ribbon >= 0 && loom_.ribbons[carry_->ribbon].scan == r.scan) continue;
    if (open < 0.05 && r.confidence >= kWeakConfidence && !Dimmed(r.scan)) {
      if (ends.top.x() - last_ribbon < kLeastFoldedGap / 2) continue;
      last_ribbon = ends.top.x();
      folded.addPath(RibbonLine(ends));
      continue;
    }
    PaintRibbon(p, r, ends, Dimmed(r.scan) ? Mixed(ground, theme::kRibbon, kDimmed) : theme::kRibbon);
  }
  if (!folded.isEmpty()) p.strokePath(folded, QPen(theme::kRibbon, 1.3));
  if (open > 0.4)
    for (int k = of.first_scan; k < of.first_scan + of.scans; ++k) {
      if (RibbonOfScan(k) >= 0) continue;
      const double x = X(now_.scans[k].centre());
      p.setPen(QPen(theme::kRibbon, 1.75));
      // Filled: it waits for an answer.
      p.setBrush(loom_.scans[k].undecided ? QBrush(theme::kMark) : QBrush(Qt::NoBrush));
      p.drawLine(QPointF(x, top), QPointF(x, top + kLooseStem));
      p.drawEllipse(QPointF(x, top + kLooseStem + kLooseRing), kLooseRing, kLooseRing);
    }
}

void LoomView::PaintLeftOver(QPainter& p, int light) const {
  const LoomLight& of = loom_.lights[light];
  const LoomSpan& span = now_.lights[light];
  const double floor = Y(6) - 3, height = bands_.left_over - 6, open = now_.open[light];
  const double mark = floor - height * 0.5;  // the tolerance lies half-way up
  p.setRenderHint(QPainter::Antialiasing, false);
  const QColor ground = theme::LightTint(of.mired, open);
  QPen dots(Mixed(ground, theme::kMark, 0.47), 1);
  dots.setDashPattern({1, 3});
  p.setPen(dots);
  p.drawLine(QPointF(X(span.x), std::round(mark)), QPointF(X(span.x) + span.w - 4, std::round(mark)));
  double last = -1e9;
  for (int k = of.first_frame; k < of.first_frame + of.frames; ++k) {
    const LoomFrame& frame = loom_.frames[k];
    const double x = X(now_.frames[k].centre());
    const double w = std::clamp(now_.frames[k].w * 0.12, 1.0, 6.0);
    if (x < bands_.gutter || x > width()) continue;
    if (frame.to_check) {
      const double h = frame.compared && frame.left_over > 1 ? std::min(1.0, 0.5 * frame.left_over) * height
                                                             : height * 0.5;
      const double wide = std::max(2.0, w);
      if (frame.compared && frame.left_over > 1) {
        FillCrisp(p, {x - wide / 2, floor - h, wide, h}, theme::kMark);
      } else {
        // To check for a reason that is no left-over: hollow.
        p.setPen(QPen(theme::kMark, 1));
        p.setBrush(Qt::NoBrush);
        p.drawRect(QRectF(std::round(x - 2), std::round(floor - h), 3, std::round(h) - 1));
      }
    } else if (frame.compared && x - last >= 2) {
      const double h = std::max(1.5, std::min(1.0, 0.5 * frame.left_over) * height);
      FillCrisp(p, {x - w / 2, floor - h, w, h}, Mixed(ground, theme::kText3, 0.8));
      last = x;
    }
  }
  if (open < 0.6) {
    p.setRenderHint(QPainter::Antialiasing);
    p.setPen(QPen(theme::kText2, 1.25));
    for (int k = of.first_scan; k < of.first_scan + of.scans; ++k) {
      if (RibbonOfScan(k) >= 0) continue;
      p.setBrush(loom_.scans[k].undecided ? QBrush(theme::kMark) : QBrush(Qt::NoBrush));
      p.drawEllipse(QPointF(X(now_.scans[k].centre()), mark), 2.6, 2.6);
    }
  }
}

}  // namespace samelight::window
