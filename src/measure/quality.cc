#include "measure/quality.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/resize.h"

namespace samelight::measure {
namespace {

float Quantile(std::vector<float>& v, double q) {
  const auto at = v.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), at, v.end());
  return *at;
}

}  // namespace

double Sharpness(const image::PlaneF& luminance) {
  cv::Mat log_y(luminance.height(), luminance.width(), CV_32F);
  for (int y = 0; y < luminance.height(); ++y) {
    const float* in = luminance.row(y);
    float* to = log_y.ptr<float>(y);
    for (int x = 0; x < luminance.width(); ++x) to[x] = std::sqrt(std::max(in[x], 0.f));
  }
  cv::Mat fine;
  cv::Laplacian(log_y, fine, CV_32F, 3);
  // Every fifth difference is plenty for the quantiles.
  std::vector<float> square;
  for (int y = 2; y + 2 < fine.rows; ++y)
    for (int x = 2 + y % 5; x + 2 < fine.cols; x += 5)
      square.push_back(fine.at<float>(y, x) * fine.at<float>(y, x));
  if (square.size() < 100) return 0;
  const double noise = Quantile(square, 0.5);
  const float strong = Quantile(square, 0.99);
  double sum = 0, n = 0;
  for (int y = 2; y + 2 < fine.rows; ++y)
    for (int x = 2; x + 2 < fine.cols; ++x) {
      const float v = fine.at<float>(y, x) * fine.at<float>(y, x);
      if (v < strong) continue;
      sum += v;
      ++n;
    }
  return n > 0 ? std::sqrt(sum / n / std::max(noise, 1e-9)) : 0;
}

double Grain(const image::RgbF& rec2020_linear, const image::PlaneU8& masked) {
  constexpr int kPatch = 12;
  const image::PlaneF luminance = image::Luminance(rec2020_linear);
  std::vector<float> spread;
  for (int y0 = 0; y0 + kPatch <= luminance.height(); y0 += kPatch)
    for (int x0 = 0; x0 + kPatch <= luminance.width(); x0 += kPatch) {
      // Least squares plane over centred coordinates, where the terms are independent.
      double n = 0, sum = 0, sum_x = 0, sum_y = 0, square = 0, level = 0;
      bool usable = true;
      for (int y = 0; y < kPatch && usable; ++y)
        for (int x = 0; x < kPatch; ++x) {
          const float v = *luminance.at(x0 + x, y0 + y);
          if (*masked.at(x0 + x, y0 + y) || !(v > 1e-4f)) {
            usable = false;
            break;
          }
          const double l = std::log10(v), cx = x - (kPatch - 1) / 2.0, cy = y - (kPatch - 1) / 2.0;
          ++n;
          sum += l;
          sum_x += l * cx;
          sum_y += l * cy;
          square += l * l;
          level += v;
        }
      if (!usable) continue;
      level /= n;
      if (level < 0.06 || level > 0.55) continue;
      const double across = n * (kPatch * kPatch - 1) / 12.0;
      const double left = square - sum * sum / n - sum_x * sum_x / across - sum_y * sum_y / across;
      spread.push_back(static_cast<float>(std::sqrt(std::max(0.0, left / (n - 3)))));
    }
  if (spread.size() < 20) return 0;
  // The flattest twentieth holds patches without a subject; its median is the grain.
  return Quantile(spread, 0.025);
}

bool IsBlackAndWhite(const image::RgbF& lab) {
  constexpr int kTones = 20;
  std::array<std::array<std::vector<float>, 2>, kTones> by_tone;
  for (std::size_t i = 0; i < lab.pixels(); ++i) {
    const float* p = lab.data().data() + 3 * i;
    if (p[0] < 5 || p[0] > 97) continue;
    auto& tone = by_tone[std::min(kTones - 1, static_cast<int>(p[0] / 100 * kTones))];
    tone[0].push_back(p[1]);
    tone[1].push_back(p[2]);
  }
  std::vector<float> off;
  for (auto& tone : by_tone) {
    if (tone[0].size() < 30) continue;
    std::vector<float> a = tone[0], b = tone[1];
    const float mid_a = Quantile(a, 0.5), mid_b = Quantile(b, 0.5);
    for (std::size_t i = 0; i < tone[0].size(); ++i)
      off.push_back(std::hypot(tone[0][i] - mid_a, tone[1][i] - mid_b));
  }
  // Two units of CIELAB are what 8-bit codes and JPEG blocks leave of a grey; a colour photograph, however
  // pale, has more than that in its most coloured twentieth.
  return off.size() >= 500 && Quantile(off, 0.98) < 2.0f;
}

std::string BlankNote(const image::RgbF& lab, double clipped_high) {
  std::vector<float> l;
  for (std::size_t i = 0; i < lab.pixels(); ++i) l.push_back(lab.data()[3 * i]);
  if (l.empty()) return "empty picture";
  const float low = Quantile(l, 0.01), mid = Quantile(l, 0.5), high = Quantile(l, 0.99);
  if (clipped_high > 0.9 || low > 97) return "white: burnt out";
  if (high < 6) return "black: nothing was exposed";
  if (high - low < 4) return mid > 50 ? "blank: one light tone" : "blank: one dark tone";
  return {};
}

}  // namespace samelight::measure
