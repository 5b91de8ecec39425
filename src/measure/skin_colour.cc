#include "measure/skin_colour.h"

#include <algorithm>
#include <cmath>

namespace samelight::measure {
namespace {

constexpr std::size_t kLeastPixels = 24;
constexpr double kDarkest = -1.5, kBrightest = 1.5;  // stops from the median that can be skin of this face
constexpr double kLeastSpread = 0.04, kMostSpread = 0.22;  // of chromaticity, log2, one standard deviation
constexpr double kLeastTone = 0.35, kMostTone = 0.9;       // of tone, stops
constexpr double kMostSlope = 0.25;                        // log2 per stop
constexpr double kSlopePrior = 0.03;  // variance of tone (stops squared) at which a slope is half believed
constexpr double kSkin = 9.2;

double Median(std::vector<double> v) {
  std::nth_element(v.begin(), v.begin() + v.size() / 2, v.end());
  return v[v.size() / 2];
}

}  // namespace

double SkinColour::Distance(const ToneChroma& pixel) const {
  const double stops = std::clamp(pixel.tone - tone_, kDarkest, kBrightest);
  const double r = pixel.r - r_ - slope_r_ * stops, b = pixel.b - b_ - slope_b_ * stops;
  return rr_ * r * r + 2 * rb_ * r * b + bb_ * b * b;
}

double SkinColour::DistanceWithTone(const ToneChroma& pixel) const {
  const double away = std::max(0.0, std::abs(pixel.tone - tone_) / tone_spread_ - 1.5);
  return Distance(pixel) + 4 * away * away;
}

bool SkinColour::Learn(std::vector<ToneChroma> pixels) {
  if (pixels.size() < kLeastPixels) return false;
  std::vector<double> r, b, tone;
  for (const ToneChroma& p : pixels) tone.push_back(p.tone);
  tone_ = Median(tone);
  std::erase_if(
      pixels, [&](const ToneChroma& p) { return p.tone - tone_ < kDarkest || p.tone - tone_ > kBrightest; });
  if (pixels.size() < kLeastPixels) return false;
  for (const ToneChroma& p : pixels) {
    r.push_back(p.r);
    b.push_back(p.b);
  }
  r_ = Median(r);
  b_ = Median(b);
  const std::size_t keep = pixels.size() * 7 / 10;
  for (int round = 0; round < 4; ++round) {
    std::nth_element(pixels.begin(), pixels.begin() + keep, pixels.end(),
                     [&](const ToneChroma& x, const ToneChroma& y) { return Distance(x) < Distance(y); });
    const auto n = static_cast<double>(keep);
    double t = 0;
    r_ = b_ = 0;
    for (std::size_t i = 0; i < keep; ++i) {
      r_ += pixels[i].r / n;
      b_ += pixels[i].b / n;
      t += pixels[i].tone / n;
    }
    double tt = 0, tr = 0, tb = 0, rr = 0, rb = 0, bb = 0;
    for (std::size_t i = 0; i < keep; ++i) {
      const double dt = pixels[i].tone - t, dr = pixels[i].r - r_, db = pixels[i].b - b_;
      tt += dt * dt / n;
      tr += dt * dr / n;
      tb += dt * db / n;
      rr += dr * dr / n;
      rb += dr * db / n;
      bb += db * db / n;
    }
    slope_r_ = std::clamp(tr / (tt + kSlopePrior), -kMostSlope, kMostSlope);
    slope_b_ = std::clamp(tb / (tt + kSlopePrior), -kMostSlope, kMostSlope);
    tone_ = t;
    // What is left beside the line. The nearest 70 % of a two-dimensional normal have 0.484 of its variance:
    // 1 + 0.3 ln 0.3 / 0.7.
    constexpr double kTrim = 0.484;
    const double left_rr = (rr - 2 * slope_r_ * tr + slope_r_ * slope_r_ * tt) / kTrim;
    const double left_bb = (bb - 2 * slope_b_ * tb + slope_b_ * slope_b_ * tt) / kTrim;
    const double left_rb = (rb - slope_r_ * tb - slope_b_ * tr + slope_r_ * slope_b_ * tt) / kTrim;
    const double corr = std::clamp(left_rb / std::sqrt(std::max(left_rr * left_bb, 1e-12)), -0.95, 0.95);
    const double vr = std::clamp(left_rr, kLeastSpread * kLeastSpread, kMostSpread * kMostSpread);
    const double vb = std::clamp(left_bb, kLeastSpread * kLeastSpread, kMostSpread * kMostSpread);
    const double c = corr * std::sqrt(vr * vb), det = vr * vb - c * c;
    rr_ = vb / det;
    bb_ = vr / det;
    rb_ = -c / det;
  }
  std::vector<double> off;
  for (std::size_t i = 0; i < keep; ++i) off.push_back(std::abs(pixels[i].tone - tone_));
  tone_spread_ = std::clamp(1.4826 * Median(off), kLeastTone, kMostTone);
  const auto skin =
      std::count_if(pixels.begin(), pixels.end(), [&](const ToneChroma& p) { return Distance(p) < kSkin; });
  return static_cast<double>(skin) > 0.5 * static_cast<double>(pixels.size());
}

}  // namespace samelight::measure
