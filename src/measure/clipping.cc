#include "measure/clipping.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/matrix.h"
#include "color/space.h"

namespace samelight::measure {
namespace {

using Matrix = std::array<std::array<float, 3>, 3>;

Matrix ToFloat(const Mat3& m) {
  Matrix f{};
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) f[r][c] = static_cast<float>(m[r][c]);
  return f;
}

std::array<float, 3> Through(const Matrix& m, const float* p) {
  return {m[0][0] * p[0] + m[0][1] * p[1] + m[0][2] * p[2], m[1][0] * p[0] + m[1][1] * p[1] + m[1][2] * p[2],
          m[2][0] * p[0] + m[2][1] * p[1] + m[2][2] * p[2]};
}

// The smallest of the common spaces in which all but one pixel in a thousand have no negative channel.
color::Space FileSpace(const image::RgbF& picture) {
  using color::Space;
  const std::size_t step = std::max<std::size_t>(1, picture.pixels() / 50000);
  for (const Space space : {Space::kSrgb, Space::kDisplayP3, Space::kAdobeRgb, Space::kRec2020}) {
    const Matrix m = ToFloat(color::RgbFromRgb(space, Space::kRec2020));
    std::size_t seen = 0, outside = 0;
    for (std::size_t i = 0; i < picture.pixels(); i += step) {
      const auto v = Through(m, picture.data().data() + 3 * i);
      ++seen;
      outside += std::min({v[0], v[1], v[2]}) < -0.003f;
    }
    if (outside * 1000 <= seen) return space;
  }
  return Space::kRomm;
}

}  // namespace

Clipping FindClipping(const image::RgbF& rec2020_linear, const record::Photo& photo, int width_px,
                      int height_px) {
  const bool raw = photo.encoding == record::Encoding::kRaw;
  Matrix m{};
  std::array<float, 3> end{};
  if (raw) {
    m = ToFloat(Inverse(photo.raw.rec2020_from_camera));
    // White-balanced camera values reach the multiplier at the white level.
    for (int c = 0; c < 3; ++c) end[c] = 0.98f * static_cast<float>(photo.raw.as_shot[c]);
  } else {
    m = ToFloat(color::RgbFromRgb(FileSpace(rec2020_linear), color::Space::kRec2020));
    end = {0.985f, 0.985f, 0.985f};  // code 254 of 255 in sRGB is 0.991, 253 is 0.982
  }
  const float low = raw ? 0.0002f : 0.0004f;  // below code 1.5 of 255
  // No channel reaches its end from values all below this; spares the product for most pixels.
  float reach = 1e30f;
  for (int c = 0; c < 3; ++c)
    reach =
        std::min(reach, end[c] / (std::max(m[c][0], 0.f) + std::max(m[c][1], 0.f) + std::max(m[c][2], 0.f)));
  cv::Mat full(rec2020_linear.height(), rec2020_linear.width(), CV_8U);
  std::size_t high_count = 0, low_count = 0;
  for (int y = 0; y < rec2020_linear.height(); ++y) {
    const float* p = rec2020_linear.row(y);
    std::uint8_t* to = full.ptr<std::uint8_t>(y);
    for (int x = 0; x < rec2020_linear.width(); ++x, p += 3) {
      to[x] = 0;
      if (p[0] < low && p[1] < low && p[2] < low) ++low_count;
      if (p[0] < reach && p[1] < reach && p[2] < reach) continue;
      const auto v = Through(m, p);
      if (v[0] < end[0] && v[1] < end[1] && v[2] < end[2]) continue;
      to[x] = 255;
      ++high_count;
    }
  }
  Clipping out;
  const auto n = static_cast<double>(std::max<std::size_t>(1, rec2020_linear.pixels()));
  out.fraction_high = static_cast<double>(high_count) / n;
  out.fraction_low = static_cast<double>(low_count) / n;
  out.high.Resize(width_px, height_px);
  cv::Mat small(height_px, width_px, CV_8U, out.high.data().data());
  cv::resize(full, small, small.size(), 0, 0, cv::INTER_AREA);
  cv::threshold(small, small, 15, 255, cv::THRESH_BINARY);
  cv::dilate(small, small, cv::Mat());
  return out;
}

}  // namespace samelight::measure
