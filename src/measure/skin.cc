#include "measure/skin.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "image/resize.h"
#include "measure/skin_colour.h"

namespace samelight::measure {
namespace {

// Lengths below are in widths or heights of the face's box (brow to chin).
constexpr double kSeedX = 0.36, kSeedY = 0.40;  // half axes of the ellipse that is taken to be skin
constexpr double kHeadX = 0.72, kHeadUp = 0.85, kHeadDown = 0.75;
constexpr double kBodyX = 3.0, kBodyUp = 1.0, kBodyDown = 6.0;
constexpr double kHeadDistance = 9, kBodyDistance = 4.6;  // squared Mahalanobis: 99 % and 90 % of a normal
constexpr double kMostBody = 5;  // grown area over face area; more is a wall of the same colour
constexpr double kAlike = 9, kAlikeDarkest = -3;  // anywhere in the picture; stops below the face

constexpr float kNoEvidence = -100;  // as a tone

// A blurred picture; kNoEvidence where it is masked or has no light.
struct Planes {
  int width = 0, height = 0;
  std::vector<ToneChroma> at;
  const ToneChroma& operator()(int x, int y) const { return at[static_cast<std::size_t>(y) * width + x]; }
};

Planes ChromaPlanes(const image::RgbF& rec2020_linear, const image::PlaneU8& masked) {
  const image::RgbF smooth = image::Blur(rec2020_linear, 1.0);
  const image::PlaneF level = image::Luminance(smooth);
  Planes planes{smooth.width(), smooth.height(), std::vector<ToneChroma>(smooth.pixels())};
  for (std::size_t i = 0; i < smooth.pixels(); ++i) {
    const float* p = smooth.data().data() + 3 * i;
    if (masked.data()[i] || !(p[0] > 1e-5f && p[1] > 1e-5f && p[2] > 1e-5f)) {
      planes.at[i].tone = kNoEvidence;
      continue;
    }
    const float green = std::log2(p[1]);
    planes.at[i] = {std::log2(p[0]) - green, std::log2(p[2]) - green, std::log2(level.data()[i])};
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
cv::Mat Grow(const Planes& planes, const Place& place, const cv::Rect& body, const SkinColour& colour) {
  cv::Mat head = cv::Mat::zeros(body.size(), CV_8U), all = head.clone(), seed = head.clone();
  int seeds = 0;
  for (int y = 0; y < body.height; ++y)
    for (int x = 0; x < body.width; ++x) {
      const int px = body.x + x, py = body.y + y;
      if (planes(px, py).tone <= kNoEvidence) continue;
      const double d = colour.DistanceWithTone(planes(px, py));
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
    std::vector<ToneChroma> samples;
    for (int y = body.y; y < body.y + body.height; ++y)
      for (int x = body.x; x < body.x + body.width; ++x)
        if (place.InSeed(x, y) && planes(x, y).tone > kNoEvidence) samples.push_back(planes(x, y));
    SkinColour colour;
    if (!colour.Learn(std::move(samples))) continue;
    const cv::Mat grown = Grow(planes, place, body, colour);
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
      if (planes.at[i].tone > colour.tone() + kAlikeDarkest && colour.Distance(planes.at[i]) < kAlike)
        skin.alike.data()[i] = 255;
    }
  }
  return skin;
}

}  // namespace samelight::measure
