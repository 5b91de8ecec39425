#include "measure/descriptors.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "image/alone.h"
#include "image/resize.h"
#include "measure/local_features.h"

namespace samelight::measure {
namespace {

constexpr int kFeatureLongSide = 720;  // px; more costs time and finds film grain
constexpr int kMostPoints = 1000;
constexpr int kLayoutSide = 16;               // global vector: layout
constexpr int kTurnCells = 6, kTurnBins = 8;  // global vector: gradient directions

template <class R>
cv::Mat View(const R& r, int type) {
  return cv::Mat(r.height(), r.width(), type, const_cast<void*>(static_cast<const void*>(r.data().data())));
}

void Normalise(float* begin, float* end, float length) {
  double sum = 0;
  for (float* p = begin; p != end; ++p) sum += static_cast<double>(*p) * *p;
  const float s = sum > 1e-12 ? static_cast<float>(length / std::sqrt(sum)) : 0.f;
  for (float* p = begin; p != end; ++p) *p *= s;
}

// Layout at low resolution and histograms of gradient directions, each of equal weight.
std::vector<float> GlobalVector(const cv::Mat& normalised) {
  const int layout_size = kLayoutSide * kLayoutSide;
  std::vector<float> out(layout_size + kTurnCells * kTurnCells * kTurnBins, 0.f);
  cv::Mat small;
  cv::resize(normalised, small, cv::Size(kLayoutSide, kLayoutSide), 0, 0, cv::INTER_AREA);
  const double mean = cv::mean(small)[0];
  for (int i = 0; i < layout_size; ++i)
    out[i] = static_cast<float>(small.at<float>(i / kLayoutSide, i % kLayoutSide) - mean);
  const int side = kTurnCells * 32;
  cv::Mat mid, gx, gy;
  cv::resize(normalised, mid, cv::Size(side, side), 0, 0, cv::INTER_AREA);
  cv::Sobel(mid, gx, CV_32F, 1, 0);
  cv::Sobel(mid, gy, CV_32F, 0, 1);
  float* turns = out.data() + layout_size;
  for (int y = 0; y < side; ++y)
    for (int x = 0; x < side; ++x) {
      const float dx = gx.at<float>(y, x), dy = gy.at<float>(y, x);
      const float direction =
          std::atan2(dy, dx) / static_cast<float>(CV_PI) * kTurnBins;  // opposite ones are one
      const float bin = direction < 0 ? direction + kTurnBins : direction;
      const int b0 = static_cast<int>(bin) % kTurnBins, b1 = (b0 + 1) % kTurnBins;
      const float t = bin - std::floor(bin), strength = std::sqrt(dx * dx + dy * dy);
      float* cell = turns + (y / 32 * kTurnCells + x / 32) * kTurnBins;
      cell[b0] += strength * (1 - t);
      cell[b1] += strength * t;
    }
  for (int c = 0; c < kTurnCells * kTurnCells; ++c) {
    float* cell = turns + c * kTurnBins;
    const float sum = std::accumulate(cell, cell + kTurnBins, 1e-3f);
    for (int b = 0; b < kTurnBins; ++b) cell[b] = cell[b] / sum - 1.f / kTurnBins;
  }
  Normalise(out.data(), turns, std::sqrt(0.5f));
  Normalise(turns, out.data() + out.size(), std::sqrt(0.5f));
  return out;
}

}  // namespace

image::PlaneF LocallyNormalisedLog(const image::PlaneF& luminance, const image::PlaneU8& valid,
                                   double sigma_px) {
  const int w = luminance.width(), h = luminance.height();
  image::PlaneF out(w, h);
  if (out.pixels() == 0) return out;
  // The toe of the logarithm follows the picture's own level, so that an underexposed frame looks like any
  // other.
  std::vector<float> sorted;
  sorted.reserve(out.pixels());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const float y = luminance.data()[i];
    if (valid.data()[i] && std::isfinite(y)) sorted.push_back(std::max(y, 0.f));
  }
  if (sorted.empty()) {
    std::fill(out.data().begin(), out.data().end(), 0.f);
    return out;
  }
  std::nth_element(sorted.begin(), sorted.begin() + sorted.size() / 2, sorted.end());
  const float toe = 0.03f * sorted[sorted.size() / 2] + 1e-5f;

  cv::Mat log(h, w, CV_32F), mask(h, w, CV_32F);
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const float y = luminance.data()[i];
    const bool ok = valid.data()[i] && std::isfinite(y);
    mask.ptr<float>()[i] = ok ? 1.f : 0.f;
    log.ptr<float>()[i] = ok ? std::log2(std::max(y, 0.f) + toe) : 0.f;
  }
  // Local moments by shrunk pictures: the window is wide, so a quarter of the resolution is plenty.
  const int shrink = std::max(1, static_cast<int>(sigma_px / 6));
  const cv::Size small((w + shrink - 1) / shrink, (h + shrink - 1) / shrink);
  auto window = [&](const cv::Mat& in) {
    cv::Mat s;
    cv::resize(in, s, small, 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(s, s, cv::Size(0, 0), sigma_px / shrink, 0, cv::BORDER_REFLECT_101);
    return s;
  };
  cv::Mat m = window(mask), s1 = window(log), s2 = window(log.mul(log)), mean_full, deviation_full;
  cv::max(m, 1e-4f, m);
  cv::Mat mean = s1 / m;
  cv::Mat variance = s2 / m - mean.mul(mean), deviation;
  cv::max(variance, 0.f, variance);
  cv::sqrt(variance, deviation);
  cv::resize(mean, mean_full, log.size(), 0, 0, cv::INTER_LINEAR);
  cv::resize(deviation, deviation_full, log.size(), 0, 0, cv::INTER_LINEAR);
  for (std::size_t i = 0; i < out.pixels(); ++i)
    out.data()[i] = mask.ptr<float>()[i] == 0.f ? 0.f
                                                : (log.ptr<float>()[i] - mean_full.ptr<float>()[i]) /
                                                      (deviation_full.ptr<float>()[i] + kNoiseFloorStops);
  return out;
}

Features ExtractFeatures(const Analysis& analysis) {
  image::WorkAlone();
  Features out;
  if (analysis.pixels.empty()) return out;
  const image::PlaneF luminance = image::ShrinkTo(image::Luminance(analysis.pixels), kFeatureLongSide);
  const int w = luminance.width(), h = luminance.height();
  image::PlaneU8 valid(w, h);
  if (analysis.labels.empty()) {
    std::fill(valid.data().begin(), valid.data().end(), std::uint8_t{1});
  } else {
    for (int y = 0; y < h; ++y)
      for (int x = 0; x < w; ++x)
        *valid.at(x, y) =
            *analysis.labels.at(x * analysis.labels.width() / w, y * analysis.labels.height() / h) !=
            static_cast<std::uint8_t>(record::RegionKind::kMasked);
  }
  const image::PlaneF normalised = LocallyNormalisedLog(luminance, valid, kFeatureLongSide / 24.0);
  const cv::Mat n = View(normalised, CV_32F);
  out.global = GlobalVector(n);

  const float to_analysis = static_cast<float>(analysis.pixels.width()) / w;
  for (const LocalFeature& f : FindLocalFeatures(normalised, valid, kMostPoints)) {
    out.points.push_back({f.x / w, f.y / h, f.sigma_px * to_analysis, f.angle_deg});
    out.local.insert(out.local.end(), f.descriptor.begin(), f.descriptor.end());
  }
  return out;
}

}  // namespace samelight::measure
