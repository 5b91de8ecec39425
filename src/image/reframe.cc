#include "image/reframe.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <numbers>

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

RgbF Turned(const RgbF& in, int quarters, const Cancel& cancel) {
  const int w = in.width(), h = in.height();
  RgbF out(quarters % 2 ? h : w, quarters % 2 ? w : h);
  for (int y = 0; y < out.height() && !cancel.requested(); ++y)
    for (int x = 0; x < out.width(); ++x) {
      const float* from = quarters == 1   ? in.at(y, h - 1 - x)
                          : quarters == 2 ? in.at(w - 1 - x, h - 1 - y)
                                          : in.at(w - 1 - y, x);
      std::copy(from, from + 3, out.at(x, y));
    }
  return out;
}

// Weights of four neighbours for a place `f` of 0..1 between the middle two: Keys 1981, IEEE Trans. ASSP 29,
// 1153, with a = -1/2, exact for quadratics.
std::array<float, 4> Weights(float f) {
  const float g = 1 - f;
  return {-0.5f * f * g * g, 1 + f * f * (1.5f * f - 2.5f), 1 + g * g * (1.5f * g - 2.5f), -0.5f * g * f * f};
}

// The picture at (x, y), its border repeated.
void Cubic(const RgbF& in, double x, double y, float* out) {
  const int x0 = static_cast<int>(std::floor(x)) - 1, y0 = static_cast<int>(std::floor(y)) - 1;
  const auto wx = Weights(static_cast<float>(x - (x0 + 1))), wy = Weights(static_cast<float>(y - (y0 + 1)));
  int column[4];
  for (int k = 0; k < 4; ++k) column[k] = 3 * std::clamp(x0 + k, 0, in.width() - 1);
  float sum[3] = {0, 0, 0};
  for (int j = 0; j < 4; ++j) {
    const float* row = in.row(std::clamp(y0 + j, 0, in.height() - 1));
    for (int k = 0; k < 4; ++k) {
      const float w = wy[j] * wx[k];
      for (int i = 0; i < 3; ++i) sum[i] += w * row[column[k] + i];
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

RgbF Reframe(const RgbF& in, const Cut& cut, const Cancel& cancel) {
  RgbF turned;
  if (cut.quarter_turns != 0) turned = Turned(in, cut.quarter_turns, cancel);
  const RgbF& from = cut.quarter_turns != 0 ? turned : in;
  const Rectangle r = FitInside(cut, from.width(), from.height());
  const CutSize size = SizeOf(cut, in.width(), in.height());
  RgbF out(size.width_px, size.height_px);
  if (cut.angle_deg == 0) {
    const int x0 =
        std::clamp(static_cast<int>(std::lround(r.x - r.half_width)), 0, from.width() - out.width());
    const int y0 =
        std::clamp(static_cast<int>(std::lround(r.y - r.half_height)), 0, from.height() - out.height());
    for (int y = 0; y < out.height(); ++y)
      std::memcpy(out.row(y), from.at(x0, y0 + y), sizeof(float) * 3 * static_cast<std::size_t>(out.width()));
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
