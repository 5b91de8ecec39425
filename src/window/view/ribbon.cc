#include "window/view/ribbon.h"

#include <algorithm>
#include <cmath>

namespace samelight::window {
namespace {

constexpr double kFlareReach = 9;  // px from either end
constexpr double kFlare = 1.9;     // times as wide where it is tied, at most kMostFlare more
constexpr double kMostFlare = 4;   // px

// How strongly the curve stands up before it leans over: more for far ends.
double Lean(const RibbonEnds& ends) {
  const double dx = std::abs(ends.bottom.x() - ends.top.x()), dy = std::abs(ends.bottom.y() - ends.top.y());
  return dy * (0.5 + 0.12 * std::min(1.0, dx / std::max(1.0, 2 * dy)));
}

}  // namespace

QPointF RibbonPoint(const RibbonEnds& ends, double t) {
  const double lean = Lean(ends), u = 1 - t;
  const QPointF c1 = ends.top + QPointF(0, lean), c2 = ends.bottom - QPointF(0, lean);
  return u * u * u * ends.top + 3 * u * u * t * c1 + 3 * u * t * t * c2 + t * t * t * ends.bottom;
}

QPainterPath RibbonLine(const RibbonEnds& ends) {
  const double lean = Lean(ends);
  QPainterPath path(ends.top);
  path.cubicTo(ends.top + QPointF(0, lean), ends.bottom - QPointF(0, lean), ends.bottom);
  return path;
}

QPainterPath RibbonOutline(const RibbonEnds& ends, double thickness) {
  constexpr int kSteps = 28;
  QPointF left[kSteps + 1], right[kSteps + 1];
  for (int i = 0; i <= kSteps; ++i) {
    // Steps are closer at the ends, where the outline bends most.
    const double s = static_cast<double>(i) / kSteps, t = s * s * (3 - 2 * s);
    const QPointF at = RibbonPoint(ends, t);
    const QPointF ahead = RibbonPoint(ends, std::min(1.0, t + 0.01)),
                  back = RibbonPoint(ends, std::max(0.0, t - 0.01));
    QPointF along = ahead - back;
    const double length = std::hypot(along.x(), along.y());
    along = length > 0 ? along / length : QPointF(0, 1);
    const double from_end = std::min(at.y() - ends.top.y(), ends.bottom.y() - at.y());
    const double near_end = std::clamp(1 - from_end / kFlareReach, 0.0, 1.0);
    const double flare = std::min(thickness * (kFlare - 1), kMostFlare) * near_end * near_end;
    const double half = (thickness + flare) / 2;
    const QPointF across(along.y() * half, -along.x() * half);
    left[i] = at - across;
    right[i] = at + across;
  }
  QPainterPath path(left[0]);
  for (int i = 1; i <= kSteps; ++i) path.lineTo(left[i]);
  for (int i = kSteps; i >= 0; --i) path.lineTo(right[i]);
  path.closeSubpath();
  return path;
}

double RibbonDistance(const RibbonEnds& ends, const QPointF& at, double* t) {
  double best = 1e9;
  constexpr int kSteps = 24;
  for (int i = 0; i <= kSteps; ++i) {
    const double s = static_cast<double>(i) / kSteps;
    const QPointF d = RibbonPoint(ends, s) - at;
    const double distance = std::hypot(d.x(), d.y());
    if (distance < best) {
      best = distance;
      if (t) *t = s;
    }
  }
  return best;
}

}  // namespace samelight::window
