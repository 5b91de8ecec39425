#include "image/reframe.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <utility>

namespace samelight::image {
namespace {

// The cut in pixels of the turned picture: middle, half sides.
struct Rectangle {
  double x, y, half_width, half_height;
};

Rectangle FitInside(const Cut& cut, double width, double height) {
  Rectangle r{(cut.left + cut.right) / 2 * width, (cut.top + cut.bottom) / 2 * height,
              (cut.right - cut.left) / 2 * width, (cut.bottom - cut.top) / 2 * height};
  const double a = cut.angle_deg * std::numbers::pi / 180, c = std::abs(std::cos(a)),
               s = std::abs(std::sin(a));
  const double reach_x = c * r.half_width + s * r.half_height, reach_y = s * r.half_width + c * r.half_height;
  const double room_x = std::min(r.x, width - r.x), room_y = std::min(r.y, height - r.y);
  const double scale = std::min({1.0, room_x / reach_x, room_y / reach_y});
  r.half_width *= scale;
  r.half_height *= scale;
  return r;
}

int Whole(double length) { return std::max(1, static_cast<int>(std::lround(length))); }

// A picture turned clockwise by quarters, without moving a pixel.
class Turned {
 public:
  Turned(const RgbF& in, int quarters) : width_(in.width()), height_(in.height()) {
    const std::ptrdiff_t across = 3, down = std::ptrdiff_t{3} * width_;
    const std::ptrdiff_t right = across * (width_ - 1), bottom = down * (height_ - 1);
    if (quarters % 2) std::swap(width_, height_);
    switch (quarters) {
      case 1:
        first_ = in.row(0) + bottom, across_ = -down, down_ = across;
        break;
      case 2:
        first_ = in.row(0) + bottom + right, across_ = -across, down_ = -down;
        break;
      case 3:
        first_ = in.row(0) + right, across_ = down, down_ = -across;
        break;
      default:
        first_ = in.row(0), across_ = across, down_ = down;
    }
  }
  int width() const { return width_; }
  int height() const { return height_; }
  const float* at(int x, int y) const { return first_ + x * across_ + y * down_; }

 private:
  int width_, height_;
  const float* first_;
  std::ptrdiff_t across_, down_;  // from one pixel to the next
};

// Weights of four neighbours for a place `f` of 0..1 between the middle two: Keys 1981, IEEE Trans. ASSP 29,
// 1153, with a = -1/2, exact for quadratics.
std::array<float, 4> Weights(float f) {
  const float g = 1 - f;
  return {-0.5f * f * g * g, 1 + f * f * (1.5f * f - 2.5f), 1 + g * g * (1.5f * g - 2.5f), -0.5f * g * f * f};
}

// The picture at (x, y), its border repeated.
void Cubic(const Turned& in, double x, double y, float* out) {
  const int x0 = static_cast<int>(std::floor(x)) - 1, y0 = static_cast<int>(std::floor(y)) - 1;
  const auto wx = Weights(static_cast<float>(x - (x0 + 1))), wy = Weights(static_cast<float>(y - (y0 + 1)));
  int column[4];
  for (int k = 0; k < 4; ++k) column[k] = std::clamp(x0 + k, 0, in.width() - 1);
  float sum[3] = {0, 0, 0};
  for (int j = 0; j < 4; ++j) {
    const int row = std::clamp(y0 + j, 0, in.height() - 1);
    for (int k = 0; k < 4; ++k) {
      const float w = wy[j] * wx[k];
      const float* pixel = in.at(column[k], row);
      for (int i = 0; i < 3; ++i) sum[i] += w * pixel[i];
    }
  }
  std::copy(sum, sum + 3, out);
}

}  // namespace

CutSize SizeOf(const Cut& cut, int width_px, int height_px) {
  if (cut.quarter_turns % 2) std::swap(width_px, height_px);
  const Rectangle r = FitInside(cut, width_px, height_px);
  return {std::min(width_px, Whole(2 * r.half_width)), std::min(height_px, Whole(2 * r.half_height))};
}

RgbF Reframe(const RgbF& in, const Cut& cut, const Cancel& cancel, RgbF room) {
  const Turned from(in, cut.quarter_turns);
  const Rectangle r = FitInside(cut, from.width(), from.height());
  const CutSize size = SizeOf(cut, in.width(), in.height());
  RgbF out = std::move(room);
  out.Resize(size.width_px, size.height_px);
  if (cut.angle_deg == 0) {
    const int x0 =
        std::clamp(static_cast<int>(std::lround(r.x - r.half_width)), 0, from.width() - out.width());
    const int y0 =
        std::clamp(static_cast<int>(std::lround(r.y - r.half_height)), 0, from.height() - out.height());
    for (int y = 0; y < out.height() && !cancel.requested(); ++y) {
      float* row = out.row(y);
      for (int x = 0; x < out.width(); ++x, row += 3) {
        const float* pixel = from.at(x0 + x, y0 + y);
        std::copy(pixel, pixel + 3, row);
      }
    }
    return out;
  }
  // Place in `from` of a pixel of `out`: turned back about the middle. Pixel middles lie at whole numbers.
  const double a = cut.angle_deg * std::numbers::pi / 180, c = std::cos(a), s = std::sin(a);
  const double mx = (out.width() - 1) / 2.0, my = (out.height() - 1) / 2.0;
  for (int y = 0; y < out.height() && !cancel.requested(); ++y) {
    float* row = out.row(y);
    for (int x = 0; x < out.width(); ++x, row += 3)
      Cubic(from, r.x - 0.5 + c * (x - mx) + s * (y - my), r.y - 0.5 - s * (x - mx) + c * (y - my), row);
  }
  return out;
}

}  // namespace samelight::image
