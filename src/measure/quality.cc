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

namespace {

// Mean of the largest percent of the squares of `values` (every one from the border inward), and their
// median.
struct Squares {
  double strong = 0, median = 0;
};

Squares SquaresOf(const cv::Mat& values) {
  std::vector<float> sample;  // every fifth is plenty for the quantiles
  for (int y = 2; y + 2 < values.rows; ++y)
    for (int x = 2 + y % 5; x + 2 < values.cols; x += 5)
      sample.push_back(values.at<float>(y, x) * values.at<float>(y, x));
  if (sample.size() < 100) return {};
  const double median = Quantile(sample, 0.5);
  const float limit = Quantile(sample, 0.99);
  double sum = 0, n = 0;
  for (const float v : sample)
    if (v >= limit) {
      sum += v;
      ++n;
    }
  return {sum / n, median};
}

}  // namespace

double Sharpness(const image::PlaneF& luminance) {
  // The square root of light: noise of photons is then the same at all levels.
  cv::Mat root(luminance.height(), luminance.width(), CV_32F), fine, soft, dx, dy, slope;
  for (int y = 0; y < luminance.height(); ++y)
    for (int x = 0; x < luminance.width(); ++x)
      root.at<float>(y, x) = std::sqrt(std::max(*luminance.at(x, y), 0.f));
  cv::Laplacian(root, fine, CV_32F, 1);
  cv::resize(root, soft, cv::Size(), 0.25, 0.25, cv::INTER_AREA);
  cv::Sobel(soft, dx, CV_32F, 1, 0);
  cv::Sobel(soft, dy, CV_32F, 0, 1);
  cv::magnitude(dx, dy, slope);
  const Squares edges = SquaresOf(fine), contrast = SquaresOf(slope);
  // The strongest percent of normal noise has 17.4 times the median of its squares: 7.92 over 0.4549
  // variances.
  const double signal = edges.strong - 18.6 * edges.median;
  return contrast.strong > 1e-9 && signal > 0 ? 100 * std::sqrt(signal / contrast.strong) : 0;
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
  // The flattest tenth holds patches without a subject. Its middle lies about 10 % below their mean, because
  // a patch of 144 px knows its RMS to 6 % only; half of that is given back, for pictures with few such
  // patches.
  return 1.05 * Quantile(spread, 0.05);
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
