#include "measure/light.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "color/temperature.h"
#include "image/resize.h"

namespace samelight::measure {
namespace {

// Chromaticity as log2 of red and of blue over green, on a grid of 1/32 stop.
constexpr int kBins = 192;
constexpr double kStep = 1.0 / 32, kFirst = -3.0;

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
  return Mul(raw.rec2020_from_camera, camera);
}

}  // namespace

record::LightEstimate EstimateLight(const image::RgbF& rec2020_linear, const image::PlaneU8& masked,
                                    const image::PlaneU8& skin_alike, const record::Photo& photo,
                                    const std::vector<record::Face>& faces) {
  const int w = rec2020_linear.width(), h = rec2020_linear.height();
  record::LightEstimate light;
  // Blurred a little, so that noise and grain do not spread dark greys over all chromaticities.
  const image::RgbF smooth = image::Blur(rec2020_linear, 1.2);
  const image::PlaneF y = image::Luminance(smooth);
  std::vector<float> levels;
  for (std::size_t i = 0; i < y.pixels(); ++i)
    if (!masked.data()[i] && y.data()[i] > 1e-6f) levels.push_back(y.data()[i]);
  if (levels.size() < 200) {
    light.log2_level = levels.empty() ? -20 : std::log2(levels[levels.size() / 2]);
    return light;
  }
  const auto quantile = [&](double q) {
    const auto at = levels.begin() + static_cast<std::ptrdiff_t>(q * static_cast<double>(levels.size() - 1));
    std::nth_element(levels.begin(), at, levels.end());
    return *at;
  };
  light.log2_level = std::log2(quantile(0.5));
  const float dark = quantile(0.08), white = quantile(0.98);

  cv::Mat votes = cv::Mat::zeros(kBins, kBins, CV_32F);
  double all = 0;
  for (int py = 1; py + 1 < h; ++py)
    for (int px = 1; px + 1 < w; ++px) {
      const float v = *y.at(px, py);
      if (*masked.at(px, py) || v < dark) continue;
      const float* p = smooth.at(px, py);
      if (!(p[0] > 0 && p[1] > 0 && p[2] > 0)) continue;
      const int r = static_cast<int>((std::log2(p[0] / p[1]) - kFirst) / kStep);
      const int b = static_cast<int>((std::log2(p[2] / p[1]) - kFirst) / kStep);
      if (r < 0 || b < 0 || r >= kBins || b >= kBins) continue;
      // White patch: brighter counts more. Grey edge (van de Weijer et al. 2007): edges count more.
      const float edge =
          std::abs(*y.at(px + 1, py) - *y.at(px - 1, py)) + std::abs(*y.at(px, py + 1) - *y.at(px, py - 1));
      const float weight = std::sqrt(std::min(v / white, 1.f)) * (0.15f + std::min(edge / v, 1.f)) *
                           (*skin_alike.at(px, py) ? 0.1f : 1);
      votes.at<float>(b, r) += weight;
      all += weight;
    }
  if (all <= 0) return light;
  // A wall of one colour must not outvote many small greys: counts enter by their root.
  cv::Mat spread;
  cv::sqrt(votes / all, spread);
  cv::GaussianBlur(spread, spread, cv::Size(0, 0), 0.09 / kStep, 0.09 / kStep, cv::BORDER_CONSTANT);
  double top = 0;
  cv::minMaxLoc(spread, nullptr, &top);
  // Skin is warmer than the neutral by a known direction, whoever's it is (measured skin under D65 has hue
  // angles of 45 to 75 degrees: Cooksey, Allen, Tsai 2017): neutrals for which the faces are not warm are
  // held back.
  std::vector<Chroma> skin;
  for (const record::Face& f : faces) {
    const double cx = (f.left + f.right) / 2, cy = f.top + (f.bottom - f.top) * 0.6;
    const int x0 = std::clamp(static_cast<int>((cx - (f.right - f.left) * 0.2) * w), 0, w - 1);
    const int x1 = std::clamp(static_cast<int>((cx + (f.right - f.left) * 0.2) * w), x0, w - 1);
    const int y0 = std::clamp(static_cast<int>((cy - (f.bottom - f.top) * 0.15) * h), 0, h - 1);
    const int y1 = std::clamp(static_cast<int>((cy + (f.bottom - f.top) * 0.15) * h), y0, h - 1);
    std::vector<double> r, b;
    for (int py = y0; py <= y1; ++py)
      for (int px = x0; px <= x1; ++px) {
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
  double best = -1e30;
  int best_r = 0, best_b = 0;
  for (int b = 0; b < kBins; ++b)
    for (int r = 0; r < kBins; ++r) {
      const float v = spread.at<float>(b, r);
      if (v < 0.02 * top) continue;
      const Chroma c = At(r, b);
      double score = 1.5 * std::log(v / top) + LogPrior(c);
      for (const Chroma& s : skin) {
        // log2 R/G of skin over its neutral is about +0.3..+0.9, log2 B/G about -0.3..-1.0 in BT.2020 (from
        // the spectra named above).
        const double dr = (s.r - c.r - 0.55) / 0.35, db = (s.b - c.b + 0.65) / 0.4;
        score -= 0.5 * (dr * dr + db * db) / static_cast<double>(skin.size());
      }
      if (score > best) {
        best = score;
        best_r = r;
        best_b = b;
      }
    }
  Chroma mode = At(best_r, best_b);
  // Mean of the votes around the peak.
  double near = 0;
  for (int step = 0; step < 4; ++step) {
    double sum = 0, sum_r = 0, sum_b = 0;
    for (int b = 0; b < kBins; ++b)
      for (int r = 0; r < kBins; ++r) {
        const float v = votes.at<float>(b, r);
        if (v <= 0) continue;
        const Chroma c = At(r, b);
        const double d2 = (c.r - mode.r) * (c.r - mode.r) + (c.b - mode.b) * (c.b - mode.b);
        const double k = v * std::exp(-d2 / (2 * 0.15 * 0.15));
        sum += k;
        sum_r += k * c.r;
        sum_b += k * c.b;
      }
    if (sum <= 0) break;
    mode = {sum_r / sum, sum_b / sum};
    near = sum;
  }
  // Trusted when a fair share of the picture is near it; where nothing is, the prior (D65 as decoded) is all
  // there is.
  const double share = near / all;
  light.confidence = std::clamp(share / 0.12, 0.0, 1.0) * std::exp(0.5 * LogPrior(mode));
  const double trust = std::clamp(light.confidence / 0.4, 0.0, 1.0);
  mode.r *= trust;
  mode.b *= trust;
  light.neutral = {std::exp2(mode.r), 1, std::exp2(mode.b)};

  Vec3 white_rgb = light.neutral;
  if (photo.encoding == record::Encoding::kRaw) {
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
