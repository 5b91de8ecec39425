// Drawing that several bands share.
#pragma once

#include <vector>

#include <QtCore/QRectF>
#include <QtCore/QString>
#include <QtGui/QPainter>

#include "window/view/theme.h"

namespace samelight::window {

// A run of text in one font and colour.
struct Run {
  QString text;
  QFont font;
  QColor colour = theme::kText1;
};

// One line of text, vertically centred in `box` by its capitals, elided at the end. Returns the width drawn.
double DrawText(QPainter& p, const QRectF& box, Qt::Alignment align, const QString& text, const QFont& font,
                const QColor& colour);
// Several runs on one baseline, the first at `x`; drawn up to `right`. Returns where the last one ended.
double DrawRuns(QPainter& p, double x, double baseline, double right, const std::vector<Run>& runs);
// Like DrawText, with every figure on the width of a zero, so that columns of numbers stand still.
void DrawFigures(QPainter& p, const QRectF& box, Qt::Alignment align, const QString& text, const QFont& font,
                 const QColor& colour);
double FiguresWidth(const QString& text, const QFont& font);

// `colour` over `ground`, let through by `share` 0..1. Lines are drawn with it rather than with a translucent
// colour: Qt hands translucent fills of many spans to other threads and waits for them, once for every few
// hundred spans.
QColor Mixed(const QColor& ground, const QColor& colour, double share);
// A rectangle filled on whole device pixels.
void FillCrisp(QPainter& p, const QRectF& box, const QColor& colour);
// A line of one px along x or y, on whole device pixels.
void Hairline(QPainter& p, double x1, double y1, double x2, double y2, const QColor& colour);
// The ring of the focus, 2 px outside of `box`.
void FocusRing(QPainter& p, const QRectF& box, double radius);
// The frame of what is in hand: 2 px white around 1 px black, inside `box`.
void InHandFrame(QPainter& p, const QRectF& box);

// A small picture cut to fill `box` around its middle; keeps its aspect.
void DrawSlit(QPainter& p, const QRectF& box, const QImage& picture);

}  // namespace samelight::window
