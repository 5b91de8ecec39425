#include "measure/border.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "image/resize.h"

namespace samelight::measure {
namespace {

// All lengths in pixels hold for a picture of about 1000 px; brightness is encoded (power 1/2.2), 0..1. The
// limits are common practice of what a lab scan's edge looks like: base plus fog prints as black, the holder
// as white or black.
constexpr float kDark = 0.15f, kLight = 0.93f;
constexpr double kDeepest = 0.18;     // of the side's length
constexpr double kSteepest = 0.0524;  // tan 3 degrees
constexpr double kStraight = 2.5;     // px from the fitted line
constexpr double kOnLine = 0.8;       // share of lines that must agree
constexpr int kGap = 3;               // px of soft edge between a white and a black band
constexpr int kMargin = 3;            // px of soft edge of the photograph that go too

image::PlaneF EncodedLuminance(const image::RgbF& rec2020_linear) {
  image::PlaneF y = image::Luminance(rec2020_linear);
  for (float& v : y.data()) v = v > 0 ? std::pow(std::min(v, 1.f), 1 / 2.2f) : 0;
  return y;
}

// One side, looked at so that depth runs down from row 0 of `p`.
struct Line {
  bool found = false;
  double offset = 0, slope = 0;  // depth in px at column x is offset + slope * x
  double Depth(double x) const { return offset + slope * x; }
};

bool BorderLike(float v) { return v <= kDark || v >= kLight; }

// How many pixels from the edge are border-like, gaps of up to kGap bridged.
int Run(const cv::Mat& p, int x, int deepest) {
  int run = 0, gap = 0;
  for (int y = 0; y < deepest; ++y) {
    if (BorderLike(p.at<float>(y, x))) {
      run = y + 1;
      gap = 0;
    } else if (++gap > kGap) {
      break;
    }
  }
  return run;
}

Line FindLine(const cv::Mat& p) {
  const int deepest = static_cast<int>(kDeepest * p.rows) + 1;
  const int from = p.cols * 8 / 100, to = p.cols - from;  // corners may be rounded
  if (to - from < 16) return {};
  std::vector<double> runs;
  for (int x = from; x < to; ++x) runs.push_back(Run(p, x, deepest));
  const auto n = static_cast<double>(runs.size());
  // The slope on whose line most runs lie; for each slope the offset is the median.
  Line best;
  double best_share = 0;
  std::vector<double> offsets(runs.size());
  for (int s = -26; s <= 26; ++s) {
    Line line{false, 0, s / 26.0 * kSteepest};
    for (std::size_t i = 0; i < runs.size(); ++i)
      offsets[i] = runs[i] - line.slope * (from + static_cast<double>(i));
    std::nth_element(offsets.begin(), offsets.begin() + runs.size() / 2, offsets.end());
    line.offset = offsets[runs.size() / 2];
    double on = 0;
    for (std::size_t i = 0; i < runs.size(); ++i) {
      const double off = std::abs(runs[i] - std::max(0.0, line.Depth(from + static_cast<double>(i))));
      on += std::max(0.0, 1 - off / kStraight);
    }
    if (on > best_share) {
      best_share = on;
      best = line;
    }
  }
  double on = 0;
  for (std::size_t i = 0; i < runs.size(); ++i)
    on += std::abs(runs[i] - std::max(0.0, best.Depth(from + static_cast<double>(i)))) <= kStraight;
  const double deep = std::max(best.Depth(0), best.Depth(p.cols - 1)), mid = best.Depth(p.cols / 2.0);
  // A run to the limit is a dark or white picture, not a border.
  best.found = on >= kOnLine * n && deep >= 2 && mid >= 1.5 && deep < deepest - 1;
  if (!best.found) return best;
  // Even: along the band, each row keeps its level (a photograph's own dark edge does not).
  std::vector<float> step;
  for (int x = from; x + 8 < to; x += 4) {
    const int y = static_cast<int>(best.Depth(x) / 2);
    if (y >= 0) step.push_back(std::abs(p.at<float>(y, x) - p.at<float>(y, x + 8)));
  }
  if (step.empty()) return {};
  const auto at = step.begin() + static_cast<std::ptrdiff_t>(step.size() * 8 / 10);
  std::nth_element(step.begin(), at, step.end());
  best.found = *at < 0.03f;
  return best;
}

}  // namespace

Border FindBorder(const image::RgbF& rec2020_linear) {
  const int w = rec2020_linear.width(), h = rec2020_linear.height();
  Border border;
  border.outside.Resize(w, h);
  std::fill(border.outside.data().begin(), border.outside.data().end(), std::uint8_t{0});
  if (w < 32 || h < 32) return border;
  const image::PlaneF y = EncodedLuminance(rec2020_linear);
  const cv::Mat top(h, w, CV_32F, const_cast<float*>(y.data().data()));
  cv::Mat bottom, left, right;
  cv::flip(top, bottom, 0);
  cv::transpose(top, left);
  cv::flip(left, right, 0);
  const std::array<Line, 4> lines{FindLine(top), FindLine(bottom), FindLine(left), FindLine(right)};
  if (std::none_of(lines.begin(), lines.end(), [](const Line& l) { return l.found; })) return border;

  const auto beyond = [&](int px, int py) {
    const std::array<double, 4> depth{static_cast<double>(py), static_cast<double>(h - 1 - py),
                                      static_cast<double>(px), static_cast<double>(w - 1 - px)};
    const std::array<int, 4> along{px, px, py, py};
    for (int i = 0; i < 4; ++i)
      if (lines[i].found && depth[i] < lines[i].Depth(along[i]) + kMargin) return true;
    return false;
  };
  for (int py = 0; py < h; ++py)
    for (int px = 0; px < w; ++px)
      if (beyond(px, py)) *border.outside.at(px, py) = 255;

  // Rounded corners: what is border-like in the corner and hangs together with the bands.
  const int corner = std::max(w, h) * 6 / 100;
  cv::Mat outside(h, w, CV_8U, border.outside.data().data());
  for (int i = 0; i < 4; ++i) {
    const bool low = i & 1, far = i & 2;
    if (!lines[low ? 1 : 0].found || !lines[far ? 3 : 2].found) continue;
    const double dx = lines[far ? 3 : 2].Depth(low ? h - 1 : 0),
                 dy = lines[low ? 1 : 0].Depth(far ? w - 1 : 0);
    const int cw = std::min(w / 3, static_cast<int>(dx) + corner),
              ch = std::min(h / 3, static_cast<int>(dy) + corner);
    if (cw < 1 || ch < 1) continue;
    const cv::Rect box(far ? w - cw : 0, low ? h - ch : 0, cw, ch);
    cv::Mat like = cv::Mat::zeros(ch, cw, CV_8U);
    for (int py = 0; py < ch; ++py)
      for (int px = 0; px < cw; ++px)
        like.at<std::uint8_t>(py, px) =
            outside.at<std::uint8_t>(box.y + py, box.x + px) || BorderLike(y.at(box.x + px, box.y + py)[0])
                ? 255
                : 0;
    cv::floodFill(like, cv::Point(far ? cw - 1 : 0, low ? ch - 1 : 0), cv::Scalar(128));
    cv::Mat grown;
    cv::dilate(like == 128, grown, cv::Mat(), cv::Point(-1, -1), 2);
    cv::bitwise_or(outside(box), grown, outside(box));
  }

  const auto inner = [&](int i, int length, int across) {
    if (!lines[i].found) return 0.0;
    return std::clamp((std::max(lines[i].Depth(0), lines[i].Depth(across - 1)) + kMargin) / length, 0.0,
                      0.45);
  };
  border.top = inner(0, h, w);
  border.bottom = 1 - inner(1, h, w);
  border.left = inner(2, w, h);
  border.right = 1 - inner(3, w, h);
  return border;
}

image::PlaneU8 FindDust(const image::RgbF& rec2020_linear) {
  const int w = rec2020_linear.width(), h = rec2020_linear.height();
  image::PlaneU8 dust(w, h);
  cv::Mat out(h, w, CV_8U, dust.data().data());
  out.setTo(0);
  if (w < 32 || h < 32) return dust;
  const image::PlaneF y = EncodedLuminance(rec2020_linear);
  const cv::Mat luma(h, w, CV_32F, const_cast<float*>(y.data().data()));
  cv::Mat code, smooth, off, around, speck;
  luma.convertTo(code, CV_8U, 255);
  cv::medianBlur(code, smooth, 7);
  cv::absdiff(code, smooth, off);
  // Smooth places only: leaves, lace and water are full of specks of their own. The largest deviations of a
  // place are left to the speck itself by taking the mean over a wide window.
  cv::boxFilter(off, around, CV_32F, cv::Size(31, 31));
  cv::Mat strong;
  off.convertTo(strong, CV_32F);
  speck = (strong > 28) & (strong > 9 * around) & (around < 5);
  cv::Mat labels, stats, centroids;
  const int n = cv::connectedComponentsWithStats(speck, labels, stats, centroids, 8);
  for (int i = 1; i < n; ++i) {
    if (stats.at<int>(i, cv::CC_STAT_AREA) > 60) continue;
    const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                       stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    cv::Mat part = out(box);
    part.setTo(255, labels(box) == i);
  }
  cv::dilate(out, out, cv::Mat());
  return dust;
}

}  // namespace samelight::measure
