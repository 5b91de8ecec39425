#include "measure/skin.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "image/resize.h"

namespace samelight::measure {
namespace {

// Lengths below are in widths or heights of the face's box (brow to chin).
constexpr double kSeedX = 0.36, kSeedY = 0.40;  // half axes of the ellipse that is taken to be skin
constexpr double kHeadX = 0.72, kHeadUp = 0.85, kHeadDown = 0.75;
constexpr double kBodyX = 3.0, kBodyUp = 1.0, kBodyDown = 6.0;
constexpr double kHeadDistance = 9, kBodyDistance = 4.6;  // squared Mahalanobis: 99 % and 90 % of a normal
constexpr double kMostBody = 5;  // grown area over face area; more is a wall of the same colour
constexpr double kLeastSpread = 0.05, kMostSpread = 0.22;  // standard deviation, log2

// Colour of one face: mean and inverse covariance of (log2 R/G, log2 B/G), median luminance.
struct Model {
  double r = 0, b = 0, rr = 0, rb = 0, bb = 0, level = 0;
  double Distance(double x, double z) const {
    const double dr = x - r, db = z - b;
    return rr * dr * dr + 2 * rb * dr * db + bb * db * db;
  }
};

struct Sample {
  float r, b, level;
};

double Median(std::vector<double> v) {
  std::nth_element(v.begin(), v.begin() + v.size() / 2, v.end());
  return v[v.size() / 2];
}

// Fitted three times to the 70 % of samples nearest to the model before: eyes, lips, glasses and beard fall
// out. False when the samples have no common colour.
bool Fit(std::vector<Sample> samples, Model& model) {
  if (samples.size() < 30) return false;
  std::vector<double> r, b, level;
  for (const Sample& s : samples) level.push_back(s.level);
  model.level = Median(level);
  std::erase_if(samples,
                [&](const Sample& s) { return s.level < 0.35 * model.level || s.level > 2.8 * model.level; });
  if (samples.size() < 24) return false;
  for (const Sample& s : samples) {
    r.push_back(s.r);
    b.push_back(s.b);
  }
  model.r = Median(r);
  model.b = Median(b);
  model.rr = model.bb = 1;
  model.rb = 0;
  const std::size_t keep = samples.size() * 7 / 10;
  for (int round = 0; round < 3; ++round) {
    std::nth_element(samples.begin(), samples.begin() + keep, samples.end(),
                     [&](const Sample& x, const Sample& y) {
                       return model.Distance(x.r, x.b) < model.Distance(y.r, y.b);
                     });
    double n = 0, sr = 0, sb = 0, srr = 0, srb = 0, sbb = 0;
    for (std::size_t i = 0; i < keep; ++i) {
      const Sample& s = samples[i];
      ++n;
      sr += s.r;
      sb += s.b;
      srr += s.r * s.r;
      srb += s.r * s.b;
      sbb += s.b * s.b;
    }
    model.r = sr / n;
    model.b = sb / n;
    // The nearest 70 % of a two-dimensional normal have 0.48 of its variance: 1 - 0.3 (1 - ln 0.3) over 0.7.
    constexpr double kTrim = 0.484;
    double vr = (srr / n - model.r * model.r) / kTrim, vb = (sbb / n - model.b * model.b) / kTrim;
    double c = (srb / n - model.r * model.b) / kTrim;
    const double corr = std::clamp(c / std::sqrt(std::max(vr * vb, 1e-12)), -0.95, 0.95);
    vr = std::clamp(vr, kLeastSpread * kLeastSpread, kMostSpread * kMostSpread);
    vb = std::clamp(vb, kLeastSpread * kLeastSpread, kMostSpread * kMostSpread);
    c = corr * std::sqrt(vr * vb);
    const double det = vr * vb - c * c;
    model.rr = vb / det;
    model.bb = vr / det;
    model.rb = -c / det;
  }
  double fit = 0;
  for (const Sample& s : samples) fit += model.Distance(s.r, s.b) < kHeadDistance;
  return fit > 0.5 * static_cast<double>(samples.size());
}

}  // namespace

image::PlaneU8 FindSkin(const image::RgbF& rec2020_linear, const image::PlaneU8& masked,
                        const std::vector<record::Face>& faces) {
  const int w = rec2020_linear.width(), h = rec2020_linear.height();
  image::PlaneU8 skin(w, h);
  std::fill(skin.data().begin(), skin.data().end(), std::uint8_t{0});
  if (faces.empty()) return skin;
  const image::RgbF smooth = image::Blur(rec2020_linear, 1.0);
  const image::PlaneF level = image::Luminance(smooth);
  std::vector<float> nearest(skin.pixels(), 1e30f);

  for (std::size_t n = 0; n < std::min<std::size_t>(faces.size(), 254); ++n) {
    const record::Face& f = faces[n];
    const double fw = (f.right - f.left) * w, fh = (f.bottom - f.top) * h;
    const double cx = (f.left + f.right) / 2 * w, cy = (f.top + f.bottom) / 2 * h;
    if (fw < 6 || fh < 6) continue;
    const cv::Rect body =
        cv::Rect(cv::Point(static_cast<int>(cx - kBodyX * fw), static_cast<int>(cy - kBodyUp * fh)),
                 cv::Point(static_cast<int>(cx + kBodyX * fw), static_cast<int>(cy + kBodyDown * fh))) &
        cv::Rect(0, 0, w, h);
    if (body.empty()) continue;
    const auto in_seed = [&](int x, int y) {
      const double dx = (x + 0.5 - cx) / (kSeedX * fw), dy = (y + 0.5 - cy) / (kSeedY * fh);
      return dx * dx + dy * dy <= 1;
    };
    const auto chroma = [&](int x, int y, Sample& s) {
      const float* p = smooth.at(x, y);
      if (*masked.at(x, y) || !(p[0] > 1e-5f && p[1] > 1e-5f && p[2] > 1e-5f)) return false;
      s = {std::log2(p[0] / p[1]), std::log2(p[2] / p[1]), *level.at(x, y)};
      return true;
    };
    std::vector<Sample> samples;
    Sample s;
    for (int y = body.y; y < body.y + body.height; ++y)
      for (int x = body.x; x < body.x + body.width; ++x)
        if (in_seed(x, y) && chroma(x, y, s)) samples.push_back(s);
    Model model;
    if (!Fit(samples, model)) continue;

    // Head and body apart: the body has to be more alike, and to hang on by more than a thread.
    cv::Mat head = cv::Mat::zeros(body.size(), CV_8U), all = cv::Mat::zeros(body.size(), CV_8U),
            seed = head.clone();
    for (int y = 0; y < body.height; ++y)
      for (int x = 0; x < body.width; ++x) {
        const int px = body.x + x, py = body.y + y;
        if (!chroma(px, py, s)) continue;
        if (s.level < 0.25 * model.level || s.level > 3 * model.level) continue;
        const double d = model.Distance(s.r, s.b);
        const bool near_head = std::abs(px + 0.5 - cx) < kHeadX * fw && py + 0.5 > cy - kHeadUp * fh &&
                               py + 0.5 < cy + kHeadDown * fh;
        if (near_head ? d < kHeadDistance : d < kBodyDistance && s.level < 2.2 * model.level)
          all.at<std::uint8_t>(y, x) = 255;
        if (near_head && d < kHeadDistance) head.at<std::uint8_t>(y, x) = 255;
        if (in_seed(px, py) && d < kHeadDistance) seed.at<std::uint8_t>(y, x) = 255;
      }
    const int thread = std::max(1, static_cast<int>(std::lround(0.05 * fw)));
    const cv::Mat round =
        cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * thread + 1, 2 * thread + 1));
    const auto connected = [&](const cv::Mat& mask) {
      cv::Mat opened, labels, stats, centroids;
      cv::morphologyEx(mask, opened, cv::MORPH_OPEN, round);
      const int count = cv::connectedComponentsWithStats(opened, labels, stats, centroids, 8);
      std::vector<int> hits(count, 0);
      for (int y = 0; y < labels.rows; ++y)
        for (int x = 0; x < labels.cols; ++x)
          if (seed.at<std::uint8_t>(y, x)) ++hits[labels.at<int>(y, x)];
      cv::Mat out = cv::Mat::zeros(mask.size(), CV_8U);
      for (int i = 1; i < count; ++i)
        if (hits[i] > 0.05 * static_cast<double>(samples.size())) out.setTo(255, labels == i);
      return out;
    };
    cv::Mat face = connected(head), grown = connected(all);
    const int face_area = cv::countNonZero(face), grown_area = cv::countNonZero(grown);
    if (grown_area > (1 + kMostBody) * face_area) grown = face;
    for (int y = 0; y < body.height; ++y)
      for (int x = 0; x < body.width; ++x) {
        if (!grown.at<std::uint8_t>(y, x)) continue;
        const int px = body.x + x, py = body.y + y;
        const auto away = static_cast<float>(std::hypot((px - cx) / fw, (py - cy) / fh));
        float& best = nearest[static_cast<std::size_t>(py) * w + px];
        if (away >= best) continue;
        best = away;
        *skin.at(px, py) = static_cast<std::uint8_t>(n + 1);
      }
  }
  return skin;
}

}  // namespace samelight::measure
