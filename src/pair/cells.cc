#include "pair/cells.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <opencv2/video/tracking.hpp>
#include <tuple>

#include "image/resize.h"

namespace samelight::pair {
namespace {

constexpr int kCell_px = 5;     // of the prepared picture: 10 px of the analysis picture
constexpr int kWindow_px = 11;  // for local correlation
constexpr int kTriesPerCell = 8;
constexpr double kNormaliseSigma_px = 18;
constexpr double kLeastCorrelation = 0.6;
constexpr double kTextured = 0.25;  // deviation of normalised luminance above which correlation must hold
constexpr double kMostDisagreement_px =
    0.75;                        // forward against backward flow: 1.5 px of the analysis picture
constexpr float kWhite = 0.98f;  // linear; any channel above counts as clipped
constexpr float kBlack = 2e-4f;
// Roughness is counted softly toward black: there it is noise, of which the median of a cell has little.
constexpr double kSoftBlack = 0.01;

template <class R>
cv::Mat View32(const R& r) {
  return cv::Mat(r.height(), r.width(), CV_32FC(R::kChannelCount), const_cast<float*>(r.data().data()));
}
cv::Mat View8(const image::PlaneU8& r) {
  return cv::Mat(r.height(), r.width(), CV_8U, const_cast<std::uint8_t*>(r.data().data()));
}

// b_from_a in px of the prepared pictures.
Homography Scaled(const Homography& h, const Prepared& a, const Prepared& b) {
  auto scale = [](const Prepared& p) {
    return static_cast<double>(std::max(p.pixels.width(), p.pixels.height())) / kPlaceSide;
  };
  const double sa = scale(a), sb = scale(b);
  return {h[0] * sb / sa, h[1] * sb / sa, h[2] * sb, h[3] * sb / sa, h[4] * sb / sa, h[5] * sb,
          h[6] / sa,      h[7] / sa,      h[8]};
}

// Size of b's pixel in a's grid at the middle of a: above 1 when b is the larger.
double LocalScale(const Homography& h, const Prepared& a) {
  const double x = a.pixels.width() / 2.0, y = a.pixels.height() / 2.0;
  const auto o = Transform(h, x, y), u = Transform(h, x + 1, y), v = Transform(h, x, y + 1);
  if (!o || !u || !v) return 1;
  const double det = ((*u)[0] - (*o)[0]) * ((*v)[1] - (*o)[1]) - ((*u)[1] - (*o)[1]) * ((*v)[0] - (*o)[0]);
  return std::sqrt(std::abs(det));
}

struct Warped {
  image::PlaneF luminance;
  image::PlaneU8 valid;
};

Warped WarpToA(const Prepared& a, const Prepared& b, const Homography& h) {
  const int w = a.pixels.width(), ht = a.pixels.height();
  cv::Mat mx(ht, w, CV_32F), my(ht, w, CV_32F);
  for (int y = 0; y < ht; ++y)
    for (int x = 0; x < w; ++x) {
      const auto q = Transform(h, x + 0.5, y + 0.5);
      mx.at<float>(y, x) = q ? static_cast<float>((*q)[0] - 0.5) : -1e4f;
      my.at<float>(y, x) = q ? static_cast<float>((*q)[1] - 0.5) : -1e4f;
    }
  Warped out{image::PlaneF(w, ht), image::PlaneU8(w, ht)};
  const double scale = LocalScale(h, a);
  const image::PlaneF smooth = scale > 1.4 ? image::Blur(b.luminance, 0.45 * scale) : b.luminance;
  cv::Mat luminance = View32(out.luminance), valid = View8(out.valid);
  cv::remap(View32(smooth), luminance, mx, my, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::remap(View8(b.valid), valid, mx, my, cv::INTER_NEAREST, cv::BORDER_CONSTANT, cv::Scalar(0));
  return out;
}

cv::Mat ToBytes(const image::PlaneF& normalised) {
  cv::Mat out;
  View32(normalised).convertTo(out, CV_8U, 48, 128);
  return out;
}

cv::Vec2f FlowAt(const cv::Mat& flow, double x, double y) {
  const int x0 = std::clamp(static_cast<int>(x), 0, flow.cols - 2),
            y0 = std::clamp(static_cast<int>(y), 0, flow.rows - 2);
  const float fx = static_cast<float>(std::clamp(x - x0, 0.0, 1.0)),
              fy = static_cast<float>(std::clamp(y - y0, 0.0, 1.0));
  return (flow.at<cv::Vec2f>(y0, x0) * (1 - fx) + flow.at<cv::Vec2f>(y0, x0 + 1) * fx) * (1 - fy) +
         (flow.at<cv::Vec2f>(y0 + 1, x0) * (1 - fx) + flow.at<cv::Vec2f>(y0 + 1, x0 + 1) * fx) * fy;
}

float Bilinear(const image::PlaneF& p, double x, double y) {
  const int x0 = std::clamp(static_cast<int>(x), 0, p.width() - 2),
            y0 = std::clamp(static_cast<int>(y), 0, p.height() - 2);
  const float fx = static_cast<float>(std::clamp(x - x0, 0.0, 1.0)),
              fy = static_cast<float>(std::clamp(y - y0, 0.0, 1.0));
  const float *r0 = p.at(x0, y0), *r1 = p.at(x0, y0 + 1);
  return (r0[0] * (1 - fx) + r0[1] * fx) * (1 - fy) + (r1[0] * (1 - fx) + r1[1] * fx) * fy;
}

struct Agreement {
  double correlation = 0;
  bool textured = false;
};

Agreement Correlate(const image::PlaneF& a, const image::PlaneF& b, int x, int y, cv::Vec2f flow) {
  double sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
  constexpr int kHalf = kWindow_px / 2;
  for (int dy = -kHalf; dy <= kHalf; dy += 1)
    for (int dx = -kHalf; dx <= kHalf; dx += 1) {
      const double u = *a.at(std::clamp(x + dx, 0, a.width() - 1), std::clamp(y + dy, 0, a.height() - 1));
      const double v = Bilinear(b, x + dx + flow[0], y + dy + flow[1]);
      sa += u;
      sb += v;
      saa += u * u;
      sbb += v * v;
      sab += u * v;
    }
  constexpr double n = kWindow_px * kWindow_px;
  const double va = std::max(0.0, saa / n - sa / n * sa / n), vb = std::max(0.0, sbb / n - sb / n * sb / n);
  Agreement out;
  out.textured = std::max(va, vb) > kTextured * kTextured;
  out.correlation = (sab / n - sa / n * sb / n) / std::sqrt(va * vb + 1e-9);
  return out;
}

struct Patch {
  float rgb[3];
  double roughness = 0;  // spread of log2 luminance inside
};

// Median colour of kCell_px x kCell_px places given by `place`; false if one is outside or not valid, or if
// the median has no light left in a channel.
template <class Place>
bool MedianColour(const Prepared& p, const Place& place, bool may_be_black, Patch& out) {
  float values[3][kCell_px * kCell_px];
  double sum = 0, sum2 = 0;
  int n = 0;
  for (int dy = 0; dy < kCell_px; ++dy)
    for (int dx = 0; dx < kCell_px; ++dx) {
      double x = 0, y = 0;
      if (!place(dx - kCell_px / 2, dy - kCell_px / 2, x, y)) return false;
      const int ix = static_cast<int>(std::floor(x)), iy = static_cast<int>(std::floor(y));
      if (ix < 0 || iy < 0 || ix >= p.pixels.width() || iy >= p.pixels.height() || !*p.valid.at(ix, iy))
        return false;
      const float* rgb = p.pixels.at(ix, iy);
      for (int c = 0; c < 3; ++c) values[c][n] = rgb[c];
      const double l = std::log2(*p.luminance.at(ix, iy) + kSoftBlack);
      sum += l;
      sum2 += l * l;
      ++n;
    }
  for (int c = 0; c < 3; ++c) {
    std::nth_element(values[c], values[c] + n / 2, values[c] + n);
    out.rgb[c] = values[c][n / 2];
    if (!may_be_black && !(out.rgb[c] > kBlack)) return false;
  }
  out.roughness = std::sqrt(std::max(0.0, sum2 / n - sum / n * sum / n));
  return true;
}

// Coarse class of a colour, for telling rare ones from common ones.
int ColourClass(const float* rgb) {
  const auto level = [](double v, double step, int low, int high) {
    return std::clamp(static_cast<int>(std::lround(v / step)), low, high);
  };
  const double r = std::log2(rgb[0]), g = std::log2(rgb[1]), b = std::log2(rgb[2]);
  return (level(g + 3, 1.0, -6, 6) * 32 + level(r - g, 0.35, -7, 7)) * 32 + level(b - g, 0.35, -7, 7);
}

// Of every colour the best first, then the second best of every colour, and so on.
std::vector<record::Cell> Choose(std::vector<record::Cell> cells, int most) {
  if (static_cast<int>(cells.size()) <= most) return cells;
  std::vector<int> order(cells.size()), rank(cells.size());
  for (std::size_t i = 0; i < cells.size(); ++i) order[i] = static_cast<int>(i);
  std::stable_sort(order.begin(), order.end(),
                   [&](int i, int j) { return cells[i].weight > cells[j].weight; });
  std::map<int, int> taken;
  // Square roots: common colours keep more cells than rare ones, but not in proportion.
  for (int i : order) {
    const int t = taken[ColourClass(cells[i].b_rgb)]++;
    rank[i] = t;
  }
  std::stable_sort(order.begin(), order.end(), [&](int i, int j) { return rank[i] < rank[j]; });
  order.resize(most);
  std::sort(order.begin(), order.end());
  std::vector<record::Cell> out;
  for (int i : order) out.push_back(cells[i]);
  return out;
}

}  // namespace

Prepared Prepare(const measure::Analysis& analysis) {
  const int w = std::max(1, analysis.pixels.width() / 2), h = std::max(1, analysis.pixels.height() / 2);
  Prepared out;
  out.pixels = image::RgbF(w, h);
  out.valid = image::PlaneU8(w, h);
  out.labels = image::PlaneU8(w, h);
  out.faces = image::PlaneU8(w, h);
  const bool labelled = !analysis.labels.empty(), with_faces = !analysis.faces.empty();
  if (analysis.pixels.width() < 2 || analysis.pixels.height() < 2) return {};
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      bool valid = true;
      float sum[3] = {0, 0, 0};
      for (int k = 0; k < 4; ++k) {
        const float* p = analysis.pixels.at(2 * x + k % 2, 2 * y + k / 2);
        for (int c = 0; c < 3; ++c) {
          sum[c] += p[c] / 4;
          if (!(p[c] < kWhite)) valid = false;
        }
        if (labelled && *analysis.labels.at(2 * x + k % 2, 2 * y + k / 2) ==
                            static_cast<std::uint8_t>(record::RegionKind::kMasked))
          valid = false;
      }
      std::copy(sum, sum + 3, out.pixels.at(x, y));
      *out.valid.at(x, y) = valid;
      *out.labels.at(x, y) = labelled ? *analysis.labels.at(2 * x, 2 * y) : 0;
      *out.faces.at(x, y) = with_faces ? *analysis.faces.at(2 * x, 2 * y) : 0;
    }
  out.luminance = image::Luminance(out.pixels);
  return out;
}

std::vector<record::Cell> MatchCells(const Prepared& a, const Prepared& b, const Verified& verified, int most,
                                     bool a_is_scan) {
  const int w = a.pixels.width(), h = a.pixels.height();
  if (std::min({w, h, b.pixels.width(), b.pixels.height()}) < 4 * kWindow_px) return {};
  const Homography map = Scaled(verified.b_from_a, a, b);
  const Warped warped = WarpToA(a, b, map);
  // Both are normalised over what both show, so that a border of one does not weigh on the other.
  image::PlaneU8 both(w, h);
  for (std::size_t i = 0; i < both.pixels(); ++i)
    both.data()[i] = a.valid.data()[i] && warped.valid.data()[i];
  const image::PlaneF na = measure::LocallyNormalisedLog(a.luminance, both, kNormaliseSigma_px);
  const image::PlaneF nb = measure::LocallyNormalisedLog(warped.luminance, both, kNormaliseSigma_px);
  const cv::Mat ua = ToBytes(na), ub = ToBytes(nb);
  cv::Mat forward, backward;
  auto flow = cv::DISOpticalFlow::create(cv::DISOpticalFlow::PRESET_FAST);
  flow->setFinestScale(1);
  flow->calc(ua, ub, forward);
  flow->calc(ub, ua, backward);

  std::vector<record::Cell> cells;
  // Far more cells than wanted would be measured in vain.
  const int step =
      std::max(kCell_px, static_cast<int>(std::sqrt(static_cast<double>(w) * h / (kTriesPerCell * most))));
  for (int cy = kWindow_px / 2; cy + kWindow_px / 2 < h; cy += step)
    for (int cx = kWindow_px / 2; cx + kWindow_px / 2 < w; cx += step) {
      if (!*both.at(cx, cy)) continue;
      const cv::Vec2f f = forward.at<cv::Vec2f>(cy, cx);
      const double tx = cx + f[0], ty = cy + f[1];
      if (!(tx >= 0 && ty >= 0 && tx < w - 1 && ty < h - 1)) continue;
      const double disagreement = cv::norm(f + FlowAt(backward, tx, ty));
      if (!(disagreement < kMostDisagreement_px)) continue;
      const Agreement agreement = Correlate(na, nb, cx, cy, f);
      if (agreement.textured && agreement.correlation < kLeastCorrelation) continue;
      Patch pa, pb;
      if (!MedianColour(
              a,
              [&](int dx, int dy, double& x, double& y) {
                x = cx + dx + 0.5;
                y = cy + dy + 0.5;
                return true;
              },
              a_is_scan, pa))
        continue;
      if (!MedianColour(
              b,
              [&](int dx, int dy, double& x, double& y) {
                const auto q = Transform(map, tx + dx + 0.5, ty + dy + 0.5);
                if (q) std::tie(x, y) = std::pair((*q)[0], (*q)[1]);
                return q.has_value();
              },
              false, pb))
        continue;
      const auto place = Transform(map, tx + 0.5, ty + 0.5);
      record::Cell cell;
      cell.ax = static_cast<float>((cx + 0.5) / w);
      cell.ay = static_cast<float>((cy + 0.5) / h);
      cell.bx = static_cast<float>((*place)[0] / b.pixels.width());
      cell.by = static_cast<float>((*place)[1] / b.pixels.height());
      std::copy(pa.rgb, pa.rgb + 3, cell.a_rgb);
      std::copy(pb.rgb, pb.rgb + 3, cell.b_rgb);
      const double rough = std::max(pa.roughness, pb.roughness);
      const double flat = 1 / (1 + std::pow(rough / 0.15, 2));
      const double fit = agreement.textured ? std::clamp(agreement.correlation, 0.0, 1.0) : 0.7;
      const double steady = 1 - 0.5 * disagreement / kMostDisagreement_px;
      // Noise of dark cells: relative error grows toward black. Not of scans, which are aims: to pass over
      // what they show as black would make everybody's blacks lighter.
      const double dark = a_is_scan ? pb.rgb[1] : std::min(pa.rgb[1], pb.rgb[1]);
      const double signal = dark / (dark + 0.01);
      cell.weight = static_cast<float>(std::max(1e-3, flat * fit * steady * signal));
      const int bx = std::clamp(static_cast<int>((*place)[0]), 0, b.pixels.width() - 1);
      const int by = std::clamp(static_cast<int>((*place)[1]), 0, b.pixels.height() - 1);
      cell.region = static_cast<record::RegionKind>(*b.labels.at(bx, by));
      cell.face = static_cast<std::int8_t>(std::min<int>(*b.faces.at(bx, by), 120) - 1);
      cells.push_back(cell);
    }
  return Choose(std::move(cells), most);
}

}  // namespace samelight::pair
