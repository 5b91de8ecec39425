#include "preview/sample.h"

#include <algorithm>
#include <cmath>

#include "base/task_pool.h"
#include "image/resize.h"

namespace samelight::preview {
namespace {

// Below this many proxy pixels per output pixel interpolation alone does not lose detail to aliasing.
constexpr double kDense = 1.5;
constexpr int kRowsAtOnce = 32;

}  // namespace

void Sample(const image::RgbF& proxy, int full_width, const View& view, int width, int height, Sampled& out) {
  out.linear.Resize(width, height);
  out.inside.assign(out.linear.pixels(), 0);
  if (proxy.empty() || full_width <= 0 || width <= 0 || height <= 0) return;
  // A proxy that is much finer than the output is area-averaged to the output's own density first.
  const double zoom = view.zoom > 0 ? view.zoom : 1;
  const double density = static_cast<double>(proxy.width()) / full_width;  // proxy pixels per picture pixel
  image::RgbF averaged;
  const image::RgbF* from = &proxy;
  if (density / zoom > kDense) {
    const double shrink = zoom / density;
    averaged = image::ResizeTo(proxy, std::max(1, static_cast<int>(std::lround(proxy.width() * shrink))),
                               std::max(1, static_cast<int>(std::lround(proxy.height() * shrink))));
    from = &averaged;
  }
  const double scale_x = static_cast<double>(from->width()) / full_width;
  const double scale_y = scale_x * (static_cast<double>(from->height()) / from->width()) /
                         (static_cast<double>(proxy.height()) / proxy.width());
  const bool squares = from->width() == full_width && zoom > 1;
  const Point origin = PictureFromOutput(view, width, height, {0.5, 0.5});
  const Point right = PictureFromOutput(view, width, height, {1.5, 0.5});
  const Point down = PictureFromOutput(view, width, height, {0.5, 1.5});
  const double step_x = (right.x - origin.x) * scale_x, step_y = (right.y - origin.y) * scale_y;
  const int last_x = from->width() - 1, last_y = from->height() - 1;
  const std::size_t blocks = (static_cast<std::size_t>(height) + kRowsAtOnce - 1) / kRowsAtOnce;
  ParallelFor(blocks, {}, [&](std::size_t block) {
    const int y0 = static_cast<int>(block) * kRowsAtOnce, y1 = std::min(height, y0 + kRowsAtOnce);
    for (int y = y0; y < y1; ++y) {
      float* to = out.linear.row(y);
      std::uint8_t* inside = out.inside.data() + static_cast<std::size_t>(y) * width;
      double px = (origin.x + y * (down.x - origin.x)) * scale_x;
      double py = (origin.y + y * (down.y - origin.y)) * scale_y;
      for (int x = 0; x < width; ++x, to += 3, px += step_x, py += step_y) {
        if (!(px >= 0 && py >= 0 && px <= from->width() && py <= from->height())) {
          to[0] = to[1] = to[2] = 0;
          continue;
        }
        inside[x] = 1;
        if (squares) {
          const float* p =
              from->at(std::min(last_x, static_cast<int>(px)), std::min(last_y, static_cast<int>(py)));
          std::copy(p, p + 3, to);
          continue;
        }
        const double cx = std::max(0.0, px - 0.5), cy = std::max(0.0, py - 0.5);
        const int ix = std::min(last_x, static_cast<int>(cx)), iy = std::min(last_y, static_cast<int>(cy));
        const int jx = std::min(last_x, ix + 1), jy = std::min(last_y, iy + 1);
        const float fx = static_cast<float>(cx - ix), fy = static_cast<float>(cy - iy);
        const float *a = from->at(ix, iy), *b = from->at(jx, iy), *c = from->at(ix, jy),
                    *d = from->at(jx, jy);
        for (int k = 0; k < 3; ++k) {
          const float top = a[k] + fx * (b[k] - a[k]), bottom = c[k] + fx * (d[k] - c[k]);
          to[k] = top + fy * (bottom - top);
        }
      }
    }
  });
}

}  // namespace samelight::preview
