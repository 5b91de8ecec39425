#include "window/model/framing.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace samelight::window {

std::array<QPointF, 4> CutOf(const record::Framing& framing, double width_px, double height_px) {
  const int turns = framing.quarter_turns & 3;
  const double w = turns % 2 == 0 ? width_px : height_px, h = turns % 2 == 0 ? height_px : width_px;
  const record::Crop& cut = framing.crop;
  const QPointF middle((cut.left + cut.right) / 2 * w, (cut.top + cut.bottom) / 2 * h);
  // The content turns clockwise, so the rectangle on it turns the other way.
  const double angle = -cut.angle_deg * std::numbers::pi / 180, c = std::cos(angle), s = std::sin(angle);
  std::array<QPointF, 4> away;
  const double x[] = {cut.left, cut.right, cut.right, cut.left},
               y[] = {cut.top, cut.top, cut.bottom, cut.bottom};
  double fits = 1;
  for (int i = 0; i < 4; ++i) {
    const QPointF d(x[i] * w - middle.x(), y[i] * h - middle.y());
    away[i] = {c * d.x() - s * d.y(), s * d.x() + c * d.y()};
    const auto keep = [&](double from, double by, double most) {
      if (by > 1e-9) fits = std::min(fits, (most - from) / by);
      if (by < -1e-9) fits = std::min(fits, from / -by);
    };
    keep(middle.x(), away[i].x(), w);
    keep(middle.y(), away[i].y(), h);
  }
  std::array<QPointF, 4> corners;
  for (int i = 0; i < 4; ++i) {
    const double u = (middle.x() + fits * away[i].x()) / w, v = (middle.y() + fits * away[i].y()) / h;
    corners[i] = turns == 0   ? QPointF(u, v)
                 : turns == 1 ? QPointF(v, 1 - u)
                 : turns == 2 ? QPointF(1 - u, 1 - v)
                              : QPointF(1 - v, u);
  }
  return corners;
}

}  // namespace samelight::window
