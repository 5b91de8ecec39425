#include "preview/view.h"

#include <algorithm>
#include <cmath>

namespace samelight::preview {
namespace {

constexpr double kRad = 0.017453292519943295;

double ZoomOf(const View& view) { return view.zoom > 0 ? view.zoom : 1; }

}  // namespace

View FitView(int picture_width, int picture_height, int width, int height) {
  View view;
  view.centre = {picture_width / 2.0, picture_height / 2.0};
  view.zoom = std::min(static_cast<double>(width) / std::max(1, picture_width),
                       static_cast<double>(height) / std::max(1, picture_height));
  return view;
}

Point OutputFromPicture(const View& view, int width, int height, Point picture) {
  const double c = std::cos(view.angle_deg * kRad), s = std::sin(view.angle_deg * kRad);
  const double x = (picture.x - view.centre.x) * (view.mirrored ? -1 : 1), y = picture.y - view.centre.y;
  return {width / 2.0 + ZoomOf(view) * (c * x - s * y), height / 2.0 + ZoomOf(view) * (s * x + c * y)};
}

Point PictureFromOutput(const View& view, int width, int height, Point output) {
  const double c = std::cos(view.angle_deg * kRad), s = std::sin(view.angle_deg * kRad);
  const double x = (output.x - width / 2.0) / ZoomOf(view), y = (output.y - height / 2.0) / ZoomOf(view);
  return {view.centre.x + (c * x + s * y) * (view.mirrored ? -1 : 1), view.centre.y - s * x + c * y};
}

View Zoomed(const View& view, int width, int height, Point anchor, double factor) {
  const Point under = PictureFromOutput(view, width, height, anchor);
  View zoomed = view;
  zoomed.zoom = ZoomOf(view) * factor;
  // What lay under the anchor is `factor` times nearer to the centre.
  zoomed.centre = {under.x + (view.centre.x - under.x) / factor,
                   under.y + (view.centre.y - under.y) / factor};
  return zoomed;
}

View OnPixels(const View& view, int width, int height) {
  const double zoom = ZoomOf(view);
  if (view.angle_deg != 0 || std::abs(zoom - std::round(zoom)) > 1e-6 || zoom < 0.5) return view;
  View moved = view;
  // The upper left corner of the output, in output pixels from that of the picture, is a whole number.
  moved.centre.x +=
      (std::round(zoom * view.centre.x - width / 2.0) - (zoom * view.centre.x - width / 2.0)) / zoom;
  moved.centre.y +=
      (std::round(zoom * view.centre.y - height / 2.0) - (zoom * view.centre.y - height / 2.0)) / zoom;
  return moved;
}

View Panned(const View& view, double dx, double dy) {
  View moved = view;
  moved.centre = PictureFromOutput(view, 0, 0, {-dx, -dy});
  return moved;
}

}  // namespace samelight::preview
