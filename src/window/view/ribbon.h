// Shapes of the threads between scans and frames.
#pragma once

#include <QtCore/QPointF>
#include <QtGui/QPainterPath>

namespace samelight::window {

inline constexpr double kKnotRadius = 5;  // px: the ring of a pair tied by hand

struct RibbonEnds {
  QPointF top, bottom;
};

// A point of the curve, t 0 (top) to 1.
QPointF RibbonPoint(const RibbonEnds& ends, double t);
// The outline of a ribbon of a thickness that flares where it is tied.
QPainterPath RibbonOutline(const RibbonEnds& ends, double thickness);
// The middle line alone.
QPainterPath RibbonLine(const RibbonEnds& ends);
// Distance of a point from the middle line, px; `t` receives where.
double RibbonDistance(const RibbonEnds& ends, const QPointF& at, double* t = nullptr);

}  // namespace samelight::window
