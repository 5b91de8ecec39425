#include "measure/light.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

#include "color/temperature.h"
#include "image/resize.h"

namespace samelight::measure {
namespace {

// Chromaticity as log2 of red and of blue over green, on a grid of 1/32 stop.
constexpr int kBins = 192;
constexpr double kStep = 1.0 / 32, kFirst = -3.0;
constexpr double kNear = 0.15;     // what belongs to one neutral: half width, log2
constexpr double kHeld = 0.004;    // share of all votes that holds a tone to its neighbour
constexpr double kMostTurn = 0.5;  // how far a tone may lie from the whole, log2
constexpr double kAway = 0.35;     // from where on it is another one

// How far from D65 the neutral of a decoded picture lies, one standard deviation: white balance errors of
// cameras, casts of scans (common practice).
constexpr double kMiredSpread = 42, kGreenMagentaSpread = 7;

struct Chroma {
  double r = 0, b = 0;  // log2 R/G, log2 B/G
};

Chroma ChromaOf(const Vec3& rgb) { return {std::log2(rgb[0] / rgb[1]), std::log2(rgb[2] / rgb[1])}; }

// Linear map from log chromaticity to (mired, green-magenta), exact near D65.
struct Axes {
  double m[2][2];
  static const Axes& Get() {
    static const Axes axes = [] {
      constexpr double kMired = 20, kGreen = 4;
      const Vec3 one{1, 1, 1};
      const Chroma warm = ChromaOf(Mul(color::WhiteShiftRec2020(kMired, 0), one));
      const Chroma cold = ChromaOf(Mul(color::WhiteShiftRec2020(-kMired, 0), one));
      const Chroma green = ChromaOf(Mul(color::WhiteShiftRec2020(0, kGreen), one));
      const Chroma magenta = ChromaOf(Mul(color::WhiteShiftRec2020(0, -kGreen), one));
      const double a = (warm.r - cold.r) / (2 * kMired), c = (warm.b - cold.b) / (2 * kMired);
      const double b = (green.r - magenta.r) / (2 * kGreen), d = (green.b - magenta.b) / (2 * kGreen);
      const double det = a * d - b * c;
      return Axes{{{d / det, -b / det}, {-c / det, a / det}}};
    }();
    return axes;
  }
  double Mired(Chroma c) const { return m[0][0] * c.r + m[0][1] * c.b; }
  double GreenMagenta(Chroma c) const { return m[1][0] * c.r + m[1][1] * c.b; }
};

double LogPrior(Chroma c) {
  const Axes& axes = Axes::Get();
  const double a = axes.Mired(c) / kMiredSpread, b = axes.GreenMagenta(c) / kGreenMagentaSpread;
  return -0.5 * (a * a + b * b);
}

Chroma At(double bin_r, double bin_b) {
  return {kFirst + (bin_r + 0.5) * kStep, kFirst + (bin_b + 0.5) * kStep};
}

// White of the light that the camera saw: unbalanced camera values of a surface that comes out as `neutral`,
// by the camera's daylight balance, in linear BT.2020.
Vec3 LightOfRaw(const record::RawColour& raw, const Vec3& neutral) {
  Vec3 camera = Mul(Inverse(raw.rec2020_from_camera), neutral);
  for (int c = 0; c < 3; ++c) camera[c] *= raw.daylight[c] / raw.as_shot[c];
  return Mul(raw.rec2020_from_daylight, camera);
}

// Which pixels count, and for how much.
struct Usable {
  float dark = 0, white = 0;  // luminances
  double log2_median = -20;
  bool enough = false;
};

Usable Levels(const image::PlaneF& y, const image::PlaneU8& masked) {
  std::vector<float> levels;
  for (std::size_t i = 0; i < y.pixels(); ++i)
    if (!masked.data()[i] && y.data()[i] > 1e-6f) levels.push_back(y.data()[i]);
  Usable u;
  if (levels.empty()) return u;
  const auto quantile = [&](double q) {
    const auto at = levels.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(levels.size() - 1));
    std::nth_element(levels.begin(), at, levels.end());
    return *at;
  };
  u.log2_median = std::log2(quantile(0.5));
  u.dark = quantile(0.08);
  u.white = quantile(0.98);
  u.enough = levels.size() >= 200;
  return u;
}

// Weighted chromaticity histograms, rows blue, columns red, one for each knot of ToneNeutral.
using Votes = std::array<cv::Mat, ToneNeutral::kKnots>;

Votes Poll(const image::RgbF& smooth, const image::PlaneF& y, const image::PlaneU8& masked,
           const image::PlaneU8& skin_alike, const Usable& u) {
  Votes votes;
  for (cv::Mat& v : votes) v = cv::Mat::zeros(kBins, kBins, CV_32F);
  for (int py = 1; py + 1 < smooth.height(); ++py)
    for (int px = 1; px + 1 < smooth.width(); ++px) {
      const float v = *y.at(px, py);
      if (*masked.at(px, py) || v < u.dark) continue;
      const float* p = smooth.at(px, py);
      if (!(p[0] > 0 && p[1] > 0 && p[2] > 0)) continue;
      const int r = static_cast<int>((std::log2(p[0] / p[1]) - kFirst) / kStep);
      const int b = static_cast<int>((std::log2(p[2] / p[1]) - kFirst) / kStep);
      if (r < 0 || b < 0 || r >= kBins || b >= kBins) continue;
      // White patch: brighter counts more. Grey edge (van de Weijer et al. 2007): edges count more.
      const float edge =
          std::abs(*y.at(px + 1, py) - *y.at(px - 1, py)) + std::abs(*y.at(px, py + 1) - *y.at(px, py - 1));
      const double tone =
          (std::log2(v) - ToneNeutral::Tone(0)) / (ToneNeutral::Tone(1) - ToneNeutral::Tone(0));
      const int knot = std::clamp(static_cast<int>(std::lround(tone)), 0, ToneNeutral::kKnots - 1);
      votes[knot].at<float>(b, r) += std::sqrt(std::min(v / u.white, 1.f)) *
                                     (0.15f + std::min(edge / v, 1.f)) * (*skin_alike.at(px, py) ? 0.1f : 1);
    }
  return votes;
}

// Median chromaticity of each face's middle.
std::vector<Chroma> SkinOf(const image::RgbF& smooth, const image::PlaneU8& masked,
                           const std::vector<record::Face>& faces) {
  const int w = smooth.width(), h = smooth.height();
  std::vector<Chroma> skin;
  for (const record::Face& f : faces) {
    const double cx = (f.left + f.right) / 2, cy = f.top + (f.bottom - f.top) * 0.6;
    const auto column = [&](double x) { return std::clamp(static_cast<int>(x * w), 0, w - 1); };
    const auto row = [&](double y) { return std::clamp(static_cast<int>(y * h), 0, h - 1); };
    std::vector<double> r, b;
    for (int py = row(cy - (f.bottom - f.top) * 0.15); py <= row(cy + (f.bottom - f.top) * 0.15); ++py)
      for (int px = column(cx - (f.right - f.left) * 0.2); px <= column(cx + (f.right - f.left) * 0.2);
           ++px) {
        const float* p = smooth.at(px, py);
        if (*masked.at(px, py) || !(p[0] > 0 && p[1] > 0 && p[2] > 0)) continue;
        r.push_back(std::log2(p[0] / p[1]));
        b.push_back(std::log2(p[2] / p[1]));
      }
    if (r.size() < 12) continue;
    std::nth_element(r.begin(), r.begin() + r.size() / 2, r.end());
    std::nth_element(b.begin(), b.begin() + b.size() / 2, b.end());
    skin.push_back({r[r.size() / 2], b[b.size() / 2]});
  }
  return skin;
}

// The 100 forearms of Cooksey, Allen, Tsai 2017 (doi 10.18434/M38597) under D65 have log2 R/G 0.37 +- 0.07
// and log2 B/G -0.43 +- 0.12 in linear BT.2020; faces are redder and pictures more contrasty than their
// subjects (common practice), so the aim lies a little farther out and is held loosely.
double LogSkin(const std::vector<Chroma>& skin, Chroma neutral) {
  double sum = 0;
  for (const Chroma& s : skin) {
    const double r = (s.r - neutral.r - 0.45) / 0.28, b = (s.b - neutral.b + 0.53) / 0.35;
    sum -= 0.5 * (r * r + b * b);
  }
  return skin.empty() ? 0 : sum / static_cast<double>(skin.size());
}

struct Peak {
  Chroma at;
  double lead = 0;  // log of how much likelier it is than the best place away from it
};

Peak FindPeak(const cv::Mat& votes, const std::vector<Chroma>& skin) {
  // A wall of one colour must not outvote many small greys: counts enter by their root.
  cv::Mat spread;
  cv::sqrt(votes, spread);
  cv::GaussianBlur(spread, spread, cv::Size(0, 0), 0.09 / kStep, 0.09 / kStep, cv::BORDER_CONSTANT);
  double top = 0;
  cv::minMaxLoc(spread, nullptr, &top);
  std::vector<std::pair<double, Chroma>> scores;
  for (int b = 0; b < kBins; ++b)
    for (int r = 0; r < kBins; ++r) {
      const float v = spread.at<float>(b, r);
      if (v < 0.02 * top) continue;
      const Chroma c = At(r, b);
      scores.emplace_back(1.5 * std::log(v / top) + LogPrior(c) + LogSkin(skin, c), c);
    }
  const auto less = [](const auto& a, const auto& b) { return a.first < b.first; };
  const auto [best, peak] = *std::max_element(scores.begin(), scores.end(), less);
  double rival = best - 10;
  for (const auto& [score, c] : scores)
    if (std::hypot(c.r - peak.r, c.b - peak.b) > kAway) rival = std::max(rival, score);
  return {peak, best - rival};
}

// Moves `mode` to the mean of the votes around it, held back as if it had `held` votes of its own; returns
// their sum.
double Centre(const cv::Mat& votes, double held, Chroma& mode) {
  const Chroma start = mode;
  double near = 0;
  for (int step = 0; step < 4; ++step) {
    double sum = 0, sum_r = 0, sum_b = 0;
    for (int b = 0; b < kBins; ++b)
      for (int r = 0; r < kBins; ++r) {
        const float v = votes.at<float>(b, r);
        if (v <= 0) continue;
        const Chroma c = At(r, b);
        const double d2 = (c.r - mode.r) * (c.r - mode.r) + (c.b - mode.b) * (c.b - mode.b);
        const double k = v * std::exp(-d2 / (2 * kNear * kNear));
        sum += k;
        sum_r += k * c.r;
        sum_b += k * c.b;
      }
    near = sum;
    if (sum + held <= 0) break;
    mode = {(sum_r + held * start.r) / (sum + held), (sum_b + held * start.b) / (sum + held)};
  }
  return near;
}

// Follows the neutral from the knot that knows it best to its neighbours and on.
ToneNeutral Follow(const Votes& votes, Chroma mode, double all) {
  std::array<Chroma, ToneNeutral::kKnots> at;
  int best = 0;
  double most = -1;
  for (int k = 0; k < ToneNeutral::kKnots; ++k) {
    at[k] = mode;
    const double near = Centre(votes[k], kHeld * all, at[k]);
    if (near > most) {
      most = near;
      best = k;
    }
  }
  for (const int step : {-1, 1})
    for (int k = best + step; k >= 0 && k < ToneNeutral::kKnots; k += step) {
      at[k] = at[k - step];
      Centre(votes[k], kHeld * all, at[k]);
      at[k].r = mode.r + std::clamp(at[k].r - mode.r, -kMostTurn, kMostTurn);
      at[k].b = mode.b + std::clamp(at[k].b - mode.b, -kMostTurn, kMostTurn);
    }
  ToneNeutral neutral;
  for (int k = 0; k < ToneNeutral::kKnots; ++k) neutral.Set(k, at[k].r, at[k].b);
  return neutral;
}

}  // namespace

record::LightEstimate EstimateLight(const image::RgbF& rec2020_linear, const image::PlaneU8& masked,
                                    const image::PlaneU8& skin_alike, const record::Photo& photo,
                                    const std::vector<record::Face>& faces, ToneNeutral* by_tone) {
  record::LightEstimate light;
  // Blurred a little, so that noise and grain do not spread dark greys over all chromaticities.
  const image::RgbF smooth = image::Blur(rec2020_linear, 1.2);
  const image::PlaneF y = image::Luminance(smooth);
  const Usable usable = Levels(y, masked);
  light.log2_level = usable.log2_median;
  Chroma mode;
  const Votes votes = Poll(smooth, y, masked, skin_alike, usable);
  cv::Mat together = votes[0].clone();
  for (int k = 1; k < ToneNeutral::kKnots; ++k) together += votes[k];
  const double all = cv::sum(together)[0];
  double trust = 0;
  if (usable.enough && all > 0) {
    const Peak peak = FindPeak(together, SkinOf(smooth, masked, faces));
    mode = peak.at;
    // Trusted when a fair share of the picture is near it and nothing else is nearly as likely; where that is
    // not so, the prior (D65 as decoded) is all there is.
    const double share = Centre(together, 0, mode) / all;
    light.confidence = std::clamp(share / 0.12, 0.0, 1.0) * std::exp(0.5 * LogPrior(mode)) *
                       (1 - std::exp(-2.5 * peak.lead));
    trust = std::clamp(light.confidence / 0.4, 0.0, 1.0);
  }
  const bool raw = photo.encoding == record::Encoding::kRaw;
  if (by_tone) {
    *by_tone = raw || all <= 0 ? ToneNeutral::Constant({std::exp2(mode.r), 1, std::exp2(mode.b)})
                               : Follow(votes, mode, all);
    *by_tone = by_tone->Toward1(trust);
  }
  mode = {mode.r * trust, mode.b * trust};
  light.neutral = {std::exp2(mode.r), 1, std::exp2(mode.b)};

  Vec3 white_rgb = light.neutral;
  if (raw) {
    // The camera's own white is the better witness; the picture's neutral moves it by its confidence, at most
    // half.
    const double part = 0.5 * light.confidence;
    white_rgb = LightOfRaw(photo.raw, {std::exp2(part * mode.r), 1, std::exp2(part * mode.b)});
  }
  const Vec3 xyz = Mul(color::XyzFromRgb(color::Space::kRec2020), white_rgb);
  if (xyz[1] > 0) {
    const color::CctDuv at = color::CctDuvFromXy(color::XyFromXyz(xyz));
    light.mired = color::MiredFromKelvin(at.cct_k);
    light.duv = at.duv;
  }
  return light;
}

}  // namespace samelight::measure
