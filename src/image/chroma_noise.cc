#include "image/chroma_noise.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace samelight::image {
namespace {

constexpr float kRed = 0.2627f, kGreen = 0.6780f, kBlue = 0.0593f;  // ITU-R BT.2020-2, Table 4
constexpr int kRows = 192;                                          // of a strip
constexpr float kDark = 0.01f;                                      // luminance below which read-out counts
constexpr double kFlattest = 0.25;
// The flattest windows show a little less than the mean noise (sampled variances scatter).
constexpr double kUnderstated = 1.3;
// A rest counts as colour of its own from this many times the noise's variance on: at 2 colours of equal
// lightness bleed half as far again, at 1 flat places keep their noise.
constexpr float kStandsOut = 1.4f;

float Finite(float v) { return std::isfinite(v) ? v : 0; }

struct Differences {
  float y, red, blue;
};
Differences Of(const float* p) {
  const float r = Finite(p[0]), g = Finite(p[1]), b = Finite(p[2]);
  const float y = kRed * r + kGreen * g + kBlue * b;
  return {y, r - y, b - y};
}

// The variance that `share` of the values lie under; values is not empty.
float Quantile(std::vector<float>& values, double share) {
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
}

// Variance at a luminance; never 0, so that it can be divided by.
float Variance(float read, float shot, float luminance) {
  return std::max(1e-12f, read + shot * std::max(0.0f, luminance));
}

cv::Mat Mean(const cv::Mat& plane) {
  cv::Mat out;
  const int side = 2 * kChromaRadius + 1;
  cv::boxFilter(plane, out, CV_32F, {side, side}, {-1, -1}, true, cv::BORDER_REFLECT_101);
  return out;
}

// One strip with as many rows above and below as a window needs.
struct Strip {
  int from, to;    // rows that are written
  int top, below;  // rows that are read
};

constexpr int kMargin = kChromaRadius + 1;

// Where a row beside a border of two strips is kept, of 2 kMargin rows per border.
int BorderRow(int row) {
  const int border = (row + kMargin) / kRows;  // from 1 on
  return (border - 1) * 2 * kMargin + row + kMargin - border * kRows;
}

void Reduce(const Strip& strip, const RgbF& border, const ChromaNoise& noise, RgbF& picture) {
  const int rows = strip.below - strip.top, width = picture.width();
  cv::Mat y(rows, width, CV_32F), red(rows, width, CV_32F), blue(rows, width, CV_32F);
  for (int r = 0; r < rows; ++r) {
    const int row = strip.top + r;
    const float* p = row >= strip.from && row < strip.to ? picture.row(row) : border.row(BorderRow(row));
    float *py = y.ptr<float>(r), *pr = red.ptr<float>(r), *pb = blue.ptr<float>(r);
    for (int x = 0; x < width; ++x, p += 3) {
      const Differences d = Of(p);
      py[x] = d.y;
      pr[x] = d.red;
      pb[x] = d.blue;
    }
  }
  const cv::Mat my = Mean(y), mr = Mean(red), mb = Mean(blue);
  const cv::Mat yy = Mean(y.mul(y)), yr = Mean(y.mul(red)), yb = Mean(y.mul(blue));
  const cv::Mat rr = Mean(red.mul(red)), bb = Mean(blue.mul(blue));
  for (int row = strip.from; row < strip.to; ++row) {
    const int r = row - strip.top;
    float* p = picture.row(row);
    const auto of = [r](const cv::Mat& plane) { return plane.ptr<float>(r); };
    const float *py = of(y), *pr = of(red), *pb = of(blue), *pmy = of(my), *pmr = of(mr), *pmb = of(mb);
    const float *pyy = of(yy), *pyr = of(yr), *pyb = of(yb), *prr = of(rr), *pbb = of(bb);
    for (int x = 0; x < width; ++x, p += 3) {
      if (!std::isfinite(p[0]) || !std::isfinite(p[1]) || !std::isfinite(p[2])) continue;
      const float m = pmy[x], u = pmr[x], v = pmb[x];
      const float nu = Variance(noise.red_read, noise.red_shot, m);
      const float nv = Variance(noise.blue_read, noise.blue_shot, m);
      const float var_y = std::max(0.0f, pyy[x] - m * m);
      const float cov_u = pyr[x] - m * u, cov_v = pyb[x] - m * v;
      // Luminance has noise as well: about as much as the differences have together.
      const float ease = var_y + nu + nv;
      const float a = cov_u / ease, b = cov_v / ease;
      const float rest_u = std::max(0.0f, prr[x] - u * u - a * cov_u);
      const float rest_v = std::max(0.0f, pbb[x] - v * v - b * cov_v);
      const float over = std::max(rest_u / nu, rest_v / nv);
      const float keep = over > kStandsOut ? 1 - kStandsOut / over : 0;
      const float l = py[x], line_u = u + a * (l - m), line_v = v + b * (l - m);
      const float own_u = line_u + keep * (pr[x] - line_u);
      const float own_v = line_v + keep * (pb[x] - line_v);
      p[0] = l + own_u;
      p[2] = l + own_v;
      p[1] = l - (kRed * own_u + kBlue * own_v) / kGreen;
    }
  }
}

}  // namespace

ChromaNoise MeasureChromaNoise(const Source& picture) {
  ChromaNoise noise;
  constexpr int kSide = 2 * kChromaRadius + 1;
  if (picture.width() < 64 || picture.height() < 64) return noise;
  // About 80 x 60 windows, evenly spread.
  const int step_x = std::max(kSide, picture.width() / 80), step_y = std::max(kSide, picture.height() / 60);
  struct Window {
    float y, red, blue;
  };
  std::vector<Window> windows;
  for (int top = 0; top + kSide <= picture.height(); top += step_y)
    for (int left = 0; left + kSide <= picture.width(); left += step_x) {
      double s[6] = {};
      float room[3 * kSide];
      for (int r = 0; r < kSide; ++r) {
        const float* p = picture.Row(left, top + r, kSide, room);
        for (int x = 0; x < kSide; ++x, p += 3) {
          const Differences d = Of(p);
          s[0] += d.y;
          s[1] += d.red;
          s[2] += d.blue;
          s[3] += d.red * d.red;
          s[4] += d.blue * d.blue;
          s[5] = std::max<double>(s[5], std::max({p[0], p[1], p[2]}));
        }
      }
      constexpr double n = kSide * kSide;
      if (s[5] > 0.95) continue;  // clipped: without noise
      windows.push_back({static_cast<float>(s[0] / n),
                         static_cast<float>(std::max(0.0, s[3] / n - s[1] / n * s[1] / n)),
                         static_cast<float>(std::max(0.0, s[4] / n - s[2] / n * s[2] / n))});
    }
  constexpr std::size_t kFewest = 24;
  const auto fit = [&](float Window::*variance, float& read, float& shot) {
    std::vector<float> light, dark;
    for (const Window& w : windows)
      if (w.y >= kDark) light.push_back(w.*variance / w.y);
    if (light.size() >= kFewest) shot = static_cast<float>(kUnderstated) * Quantile(light, kFlattest);
    for (const Window& w : windows)
      if (w.y < kDark) dark.push_back(std::max(0.0f, w.*variance - shot * std::max(0.0f, w.y)));
    if (dark.size() >= kFewest) read = static_cast<float>(kUnderstated) * Quantile(dark, kFlattest);
  };
  fit(&Window::red, noise.red_read, noise.red_shot);
  fit(&Window::blue, noise.blue_read, noise.blue_shot);
  // Where it is seen: not in the blacks, which every rendering brings to nothing.
  double count = 0, noisy = 0;
  for (const Window& w : windows) {
    if (w.y < kDark) continue;
    ++count;
    const float most = std::max(Variance(noise.red_read, noise.red_shot, w.y),
                                Variance(noise.blue_read, noise.blue_shot, w.y));
    if (std::sqrt(most) > kVisible * w.y) ++noisy;
  }
  if (count > 0) noise.noisy_share = noisy / count;
  return noise;
}

void ReduceChromaNoise(RgbF& picture, const ChromaNoise& noise, const Cancel& cancel) {
  const int height = picture.height(), strips = (height + kRows - 1) / kRows;
  // Strips are written in place: what their neighbours read of them is kept.
  RgbF border(picture.width(), std::max(0, strips - 1) * 2 * kMargin);
  for (int i = 1; i < strips; ++i)
    for (int row = i * kRows - kMargin; row < std::min(height, i * kRows + kMargin); ++row)
      std::copy_n(picture.row(row), 3 * picture.width(), border.row(BorderRow(row)));
  for (int i = 0; i < strips && !cancel.requested(); ++i) {
    Strip strip;
    strip.from = i * kRows;
    strip.to = std::min(height, strip.from + kRows);
    strip.top = std::max(0, strip.from - kMargin);
    strip.below = std::min(height, strip.to + kMargin);
    Reduce(strip, border, noise, picture);
  }
}

}  // namespace samelight::image
