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
constexpr double kAlike = 9;
constexpr double kLeastSpread = 0.05, kMostSpread = 0.22;  // standard deviation, log2

constexpr double kLeastTone = 0.35,
                 kMostTone = 0.9;  // the same for luminance: hair is often skin-coloured but darker

// Colour of one face: mean and inverse covariance of (log2 R/G, log2 B/G); log2 luminance, its mean and
// spread.
struct Model {
  double r = 0, b = 0, rr = 0, rb = 0, bb = 0, level = 0, tone = 0, tone_spread = 1;
  double Distance(double x, double z) const {
    const double dr = x - r, db = z - b;
    return rr * dr * dr + 2 * rb * dr * db + bb * db * db;
  }
  // With the part of luminance that lies beyond the face's own light and shade.
  double DistanceWithTone(double x, double z, double luminance) const {
    const double away = std::max(0.0, std::abs(std::log2(luminance) - tone) / tone_spread - 1.5);
    return Distance(x, z) + away * away * 4;
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
  std::vector<double> tone;
  for (std::size_t i = 0; i < keep; ++i) tone.push_back(std::log2(samples[i].level));
  model.tone = Median(tone);
  for (double& t : tone) t = std::abs(t - model.tone);
  model.tone_spread = std::clamp(1.4826 * Median(tone), kLeastTone, kMostTone);
  double fit = 0;
  for (const Sample& s : samples) fit += model.Distance(s.r, s.b) < kHeadDistance;
  return fit > 0.5 * static_cast<double>(samples.size());
}

// (log2 R/G, log2 B/G) of a blurred picture and its luminance; luminance 0 where there is no evidence.
struct Planes {
  int width = 0, height = 0;
  std::vector<Sample> at;
  const Sample& operator()(int x, int y) const { return at[static_cast<std::size_t>(y) * width + x]; }
};

Planes ChromaPlanes(const image::RgbF& rec2020_linear, const image::PlaneU8& masked) {
  const image::RgbF smooth = image::Blur(rec2020_linear, 1.0);
  const image::PlaneF level = image::Luminance(smooth);
  Planes planes{smooth.width(), smooth.height(), std::vector<Sample>(smooth.pixels())};
  for (std::size_t i = 0; i < smooth.pixels(); ++i) {
    const float* p = smooth.data().data() + 3 * i;
    planes.at[i] = masked.data()[i] || !(p[0] > 1e-5f && p[1] > 1e-5f && p[2] > 1e-5f)
                       ? Sample{0, 0, 0}
                       : Sample{std::log2(p[0] / p[1]), std::log2(p[2] / p[1]), level.data()[i]};
  }
  return planes;
}

// A face's box in pixels.
struct Place {
  double cx, cy, fw, fh;
  bool InSeed(int x, int y) const {
    const double dx = (x + 0.5 - cx) / (kSeedX * fw), dy = (y + 0.5 - cy) / (kSeedY * fh);
    return dx * dx + dy * dy <= 1;
  }
  bool InHead(int x, int y) const {
    return std::abs(x + 0.5 - cx) < kHeadX * fw && y + 0.5 > cy - kHeadUp * fh &&
           y + 0.5 < cy + kHeadDown * fh;
  }
  cv::Rect Body(int w, int h) const {
    return cv::Rect(cv::Point(static_cast<int>(cx - kBodyX * fw), static_cast<int>(cy - kBodyUp * fh)),
                    cv::Point(static_cast<int>(cx + kBodyX * fw), static_cast<int>(cy + kBodyDown * fh))) &
           cv::Rect(0, 0, w, h);
  }
};

// What of `mask` hangs together with at least `least` pixels of `seed`, by more than a thread.
cv::Mat Connected(const cv::Mat& mask, const cv::Mat& seed, int thread, double least) {
  const cv::Mat round =
      cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * thread + 1, 2 * thread + 1));
  cv::Mat opened, labels;
  cv::morphologyEx(mask, opened, cv::MORPH_OPEN, round);
  const int count = cv::connectedComponents(opened, labels, 8);
  std::vector<int> hits(count, 0);
  for (int y = 0; y < labels.rows; ++y)
    for (int x = 0; x < labels.cols; ++x)
      if (seed.at<std::uint8_t>(y, x)) ++hits[labels.at<int>(y, x)];
  cv::Mat out = cv::Mat::zeros(mask.size(), CV_8U);
  for (int i = 1; i < count; ++i)
    if (hits[i] > least) out.setTo(255, labels == i);
  return out;
}

// Skin of one face inside `body`.
cv::Mat Grow(const Planes& planes, const Place& place, const cv::Rect& body, const Model& model) {
  cv::Mat head = cv::Mat::zeros(body.size(), CV_8U), all = head.clone(), seed = head.clone();
  int seeds = 0;
  for (int y = 0; y < body.height; ++y)
    for (int x = 0; x < body.width; ++x) {
      const int px = body.x + x, py = body.y + y;
      const Sample& s = planes(px, py);
      if (s.level <= 0) continue;
      const double d = model.DistanceWithTone(s.r, s.b, s.level);
      const bool in_head = place.InHead(px, py);
      if (d < (in_head ? kHeadDistance : kBodyDistance)) {
        all.at<std::uint8_t>(y, x) = 255;
        if (in_head) head.at<std::uint8_t>(y, x) = 255;
        if (place.InSeed(px, py)) {
          seed.at<std::uint8_t>(y, x) = 255;
          ++seeds;
        }
      }
    }
  const int thread = std::max(1, static_cast<int>(std::lround(0.05 * place.fw)));
  cv::Mat face = Connected(head, seed, thread, 0.1 * seeds),
          grown = Connected(all, seed, thread, 0.1 * seeds);
  return cv::countNonZero(grown) > (1 + kMostBody) * cv::countNonZero(face) ? face : grown;
}

}  // namespace

Skin FindSkin(const image::RgbF& rec2020_linear, const image::PlaneU8& masked,
              const std::vector<record::Face>& faces) {
  const int w = rec2020_linear.width(), h = rec2020_linear.height();
  Skin skin;
  for (image::PlaneU8* plane : {&skin.faces, &skin.alike}) {
    plane->Resize(w, h);
    std::fill(plane->data().begin(), plane->data().end(), std::uint8_t{0});
  }
  if (faces.empty()) return skin;
  const Planes planes = ChromaPlanes(rec2020_linear, masked);
  std::vector<float> nearest(planes.at.size(), 1e30f);
  for (std::size_t n = 0; n < std::min<std::size_t>(faces.size(), 254); ++n) {
    const record::Face& f = faces[n];
    const Place place{(f.left + f.right) / 2 * w, (f.top + f.bottom) / 2 * h, (f.right - f.left) * w,
                      (f.bottom - f.top) * h};
    const cv::Rect body = place.Body(w, h);
    if (place.fw < 6 || place.fh < 6 || body.empty()) continue;
    std::vector<Sample> samples;
    for (int y = body.y; y < body.y + body.height; ++y)
      for (int x = body.x; x < body.x + body.width; ++x)
        if (place.InSeed(x, y) && planes(x, y).level > 0) samples.push_back(planes(x, y));
    Model model;
    if (!Fit(samples, model)) continue;
    const cv::Mat grown = Grow(planes, place, body, model);
    for (int y = 0; y < body.height; ++y)
      for (int x = 0; x < body.width; ++x) {
        if (!grown.at<std::uint8_t>(y, x)) continue;
        const int px = body.x + x, py = body.y + y;
        // Where two faces claim a pixel, the nearer one has it, in its own measure.
        const auto away =
            static_cast<float>(std::hypot((px - place.cx) / place.fw, (py - place.cy) / place.fh));
        float& best = nearest[static_cast<std::size_t>(py) * w + px];
        if (away >= best) continue;
        best = away;
        *skin.faces.at(px, py) = static_cast<std::uint8_t>(n + 1);
      }
    for (std::size_t i = 0; i < planes.at.size(); ++i) {
      const Sample& s = planes.at[i];
      if (s.level > 0.12 * model.level && model.Distance(s.r, s.b) < kAlike) skin.alike.data()[i] = 255;
    }
  }
  return skin;
}

}  // namespace samelight::measure
