#include "measure/view.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "color/space.h"

namespace samelight::measure {
namespace {

constexpr float kMidGrey = 0.18f;
constexpr float kExponent = 1.5f;  // slope at mid-grey is kExponent * (1 - kMidGrey) = 1.23

// Tones that LabView tells apart, log2 luminance.
constexpr int kFirstStop = -16, kLastStop = 8, kTonesPerStop = 8;

float ExactCurve(float x) {
  static const float offset = std::pow(kMidGrey, kExponent) * (1 - kMidGrey) / kMidGrey;
  const float p = std::pow(x, kExponent);
  return p / (p + offset);
}

}  // namespace

double SceneGain(const image::RgbF& rec2020_linear) {
  // Every seventh pixel is plenty for a median and a high quantile.
  std::vector<float> log_y, y;
  const float* p = rec2020_linear.data().data();
  for (std::size_t i = 0; i < rec2020_linear.pixels(); i += 7) {
    const float v = 0.2627f * p[3 * i] + 0.6780f * p[3 * i + 1] + 0.0593f * p[3 * i + 2];
    if (!(v > 1e-6f) || !std::isfinite(v)) continue;
    y.push_back(v);
    log_y.push_back(std::log2(v));
  }
  if (y.empty()) return 1;
  double sum = 0;
  for (const float v : log_y) sum += v;
  const double to_grey = std::log2(0.18) - sum / static_cast<double>(log_y.size());
  const auto bright = y.begin() + static_cast<std::ptrdiff_t>(0.98 * static_cast<double>(y.size() - 1));
  std::nth_element(y.begin(), bright, y.end());
  // Scene value 1.6 comes out as display 0.97.
  const double to_white = std::log2(1.6 / *bright);
  return std::exp2(std::clamp(std::min(to_grey, to_white), -6.0, 8.0));
}

float SceneCurve(float scene_linear) {
  // The upper bits of a float count its octaves and, within each, 256 equal steps: a table index without a
  // logarithm.
  constexpr int kShift = 15;
  constexpr std::uint32_t kFrom = std::bit_cast<std::uint32_t>(0x1p-16f) >> kShift;
  constexpr std::uint32_t kTo = std::bit_cast<std::uint32_t>(0x1p8f) >> kShift;
  static const std::vector<float> table = [] {
    std::vector<float> t(kTo - kFrom + 1);
    for (std::uint32_t i = 0; i < t.size(); ++i)
      t[i] = ExactCurve(std::bit_cast<float>((i + kFrom) << kShift));
    return t;
  }();
  if (!(scene_linear >= 0x1p-16f)) return 0;
  if (scene_linear >= 0x1p8f) return 1;
  const auto bits = std::bit_cast<std::uint32_t>(scene_linear);
  const std::uint32_t i = (bits >> kShift) - kFrom;
  const float t = static_cast<float>(bits & ((1u << kShift) - 1)) / (1 << kShift);
  return table[i] + (table[i + 1] - table[i]) * t;
}

image::RgbF LabView(const image::RgbF& rec2020_linear, const ToneNeutral& neutral, bool scene_referred) {
  image::RgbF out(rec2020_linear.width(), rec2020_linear.height());
  const float gain = scene_referred ? static_cast<float>(SceneGain(rec2020_linear)) : 1.f;
  const Mat3 m = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  // sRGB from the picture for each tone, in steps too small to see.
  using Matrix = std::array<std::array<float, 3>, 3>;
  std::vector<Matrix> balanced((kLastStop - kFirstStop) * kTonesPerStop + 1);
  for (std::size_t i = 0; i < balanced.size(); ++i) {
    const Vec3 n = neutral.At(std::exp2(kFirstStop + static_cast<double>(i) / kTonesPerStop));
    for (int r = 0; r < 3; ++r)
      for (int c = 0; c < 3; ++c) balanced[i][r][c] = static_cast<float>(m[r][c] / n[c]) * gain;
  }
  const float* in = rec2020_linear.data().data();
  float* to = out.data().data();
  for (std::size_t i = 0; i < out.pixels(); ++i, in += 3, to += 3) {
    const float y = 0.2627f * in[0] + 0.6780f * in[1] + 0.0593f * in[2];
    const float tone = y > 0 ? (std::log2(y) - kFirstStop) * kTonesPerStop + 0.5f : 0;
    const Matrix& b =
        balanced[static_cast<std::size_t>(std::clamp(tone, 0.f, static_cast<float>(balanced.size() - 1)))];
    for (int c = 0; c < 3; ++c) {
      float v = b[c][0] * in[0] + b[c][1] * in[1] + b[c][2] * in[2];
      if (!(v > 0)) v = 0;
      to[c] = scene_referred ? SceneCurve(v) : std::min(v, 1.f);
    }
  }
  // OpenCV makes the tables of this conversion on the first call, without a lock: threads that meet there
  // each make their own and overwrite the others'.
  static const bool tables_made = [] {
    cv::Mat one(1, 1, CV_32FC3, cv::Scalar::all(0.5));
    cv::cvtColor(one, one, cv::COLOR_LRGB2Lab);
    return true;
  }();
  static_cast<void>(tables_made);
  cv::Mat view(out.height(), out.width(), CV_32FC3, out.data().data());
  cv::cvtColor(view, view, cv::COLOR_LRGB2Lab);
  return out;
}

}  // namespace samelight::measure
