#include "measure/local_features.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace samelight::measure {
namespace {

// Lowe 2004: intervals per octave (3.2), edge ratio (4.1), directions (5), descriptor (6). The first blur is
// smaller than his 1.6 (3.3), in place of the doubling that he starts with: of 52 re-framed photographs 50
// were found, with 1.6 48.
constexpr int kIntervals = 3;
constexpr float kFirstSigma = 1.2f;
constexpr float kInputSigma = 0.5f;  // blur that a sharp picture already has
constexpr float kEdgeRatio = 10.f;
constexpr int kDirectionBins = 36;
constexpr float kPeakShare = 0.8f;
constexpr float kMostShare = 0.2f;  // of the descriptor's length in one bin
constexpr int kSide = 4, kTurns = 8;
constexpr float kLeastContrast = 0.045f;  // for deviations of about 1: below it noise dominates
constexpr int kLeastOctaveSide = 20;
constexpr int kBorder = 4;
constexpr int kGrid = 8;  // cells per side over which features are spread

struct Octave {
  std::vector<cv::Mat> blurred;     // kIntervals + 3
  std::vector<cv::Mat> difference;  // kIntervals + 2
  std::vector<cv::Mat> magnitude,
      direction;  // made when first needed, per blurred level; direction in turns * 8
};

struct Extremum {
  int octave = 0, level = 0;
  float x = 0, y = 0, interval = 0;  // in px of the octave; interval relative to `level`
  float strength = 0;
};

std::vector<Octave> ScaleSpace(const cv::Mat& picture) {
  std::vector<Octave> out;
  cv::Mat first;
  const auto blur = [](const cv::Mat& in, float sigma) {
    cv::Mat b;
    const int reach = std::max(1, static_cast<int>(std::ceil(3 * sigma)));
    cv::GaussianBlur(in, b, cv::Size(2 * reach + 1, 2 * reach + 1), sigma, sigma, cv::BORDER_REFLECT_101);
    return b;
  };
  first = blur(picture, std::sqrt(kFirstSigma * kFirstSigma - kInputSigma * kInputSigma));
  while (std::min(first.rows, first.cols) >= kLeastOctaveSide) {
    Octave o;
    o.blurred.push_back(first);
    const float step = std::pow(2.f, 1.f / kIntervals);
    float sigma = kFirstSigma;
    for (int i = 1; i < kIntervals + 3; ++i) {
      o.blurred.push_back(blur(o.blurred.back(), sigma * std::sqrt(step * step - 1)));
      sigma *= step;
      o.difference.push_back(o.blurred[i] - o.blurred[i - 1]);
    }
    o.magnitude.resize(kIntervals + 3);
    o.direction.resize(kIntervals + 3);
    const cv::Mat& twice = o.blurred[kIntervals];
    first = cv::Mat(twice.rows / 2, twice.cols / 2, CV_32F);
    for (int y = 0; y < first.rows; ++y)
      for (int x = 0; x < first.cols; ++x) first.at<float>(y, x) = twice.at<float>(2 * y, 2 * x);
    out.push_back(std::move(o));
  }
  return out;
}

bool IsExtremum(const cv::Mat* d, int y, int x, float v) {
  for (int l = 0; l < 3; ++l)
    for (int dy = -1; dy <= 1; ++dy) {
      const float* r = d[l].ptr<float>(y + dy) + x;
      if (v > 0 ? (r[-1] > v || r[0] > v || r[1] > v) : (r[-1] < v || r[0] < v || r[1] < v)) return false;
    }
  return true;
}

// Place between the samples by a quadratic in three dimensions (Lowe 2004, 4); false if it runs away, is
// faint or is an edge.
bool Settle(const Octave& o, int level, int y, int x, Extremum& e) {
  float ox = 0, oy = 0, ol = 0, value = 0;
  for (int attempt = 0; attempt < 4; ++attempt) {
    const cv::Mat &d0 = o.difference[level - 1], &d1 = o.difference[level], &d2 = o.difference[level + 1];
    const float *m = d1.ptr<float>(y) + x, *up = d1.ptr<float>(y - 1) + x, *down = d1.ptr<float>(y + 1) + x;
    const float *bm = d0.ptr<float>(y) + x, *bu = d0.ptr<float>(y - 1) + x, *bd = d0.ptr<float>(y + 1) + x;
    const float *am = d2.ptr<float>(y) + x, *au = d2.ptr<float>(y - 1) + x, *ad = d2.ptr<float>(y + 1) + x;
    const cv::Vec3f g((m[1] - m[-1]) / 2, (*down - *up) / 2, (*am - *bm) / 2);
    const float xx = m[1] + m[-1] - 2 * m[0], yy = *down + *up - 2 * m[0], ll = *am + *bm - 2 * m[0];
    const float xy = (down[1] - down[-1] - up[1] + up[-1]) / 4, xl = (am[1] - am[-1] - bm[1] + bm[-1]) / 4,
                yl = (*ad - *au - *bd + *bu) / 4;
    const cv::Matx33f h(xx, xy, xl, xy, yy, yl, xl, yl, ll);
    cv::Vec3f s;
    if (!cv::solve(h, g, s, cv::DECOMP_LU)) return false;
    ox = -s[0];
    oy = -s[1];
    ol = -s[2];
    if (std::abs(ox) < 0.5f && std::abs(oy) < 0.5f && std::abs(ol) < 0.5f) {
      value = m[0] + 0.5f * (g[0] * ox + g[1] * oy + g[2] * ol);
      if (std::abs(value) < kLeastContrast) return false;
      const float trace = xx + yy, det = xx * yy - xy * xy;
      if (det <= 0 || trace * trace * kEdgeRatio >= (kEdgeRatio + 1) * (kEdgeRatio + 1) * det) return false;
      e.level = level;
      e.x = static_cast<float>(x) + ox;
      e.y = static_cast<float>(y) + oy;
      e.interval = ol;
      e.strength = std::abs(value);
      return true;
    }
    if (!(std::abs(ox) < 8 && std::abs(oy) < 8 && std::abs(ol) < 8)) return false;
    x += static_cast<int>(std::lround(ox));
    y += static_cast<int>(std::lround(oy));
    level += static_cast<int>(std::lround(ol));
    if (level < 1 || level > kIntervals || x < kBorder || y < kBorder || x >= d1.cols - kBorder ||
        y >= d1.rows - kBorder)
      return false;
  }
  return false;
}

std::vector<Extremum> FindExtrema(const std::vector<Octave>& octaves) {
  std::vector<Extremum> out;
  for (int o = 0; o < static_cast<int>(octaves.size()); ++o)
    for (int level = 1; level <= kIntervals; ++level) {
      const cv::Mat* d = &octaves[o].difference[level - 1];
      for (int y = kBorder; y < d[1].rows - kBorder; ++y) {
        const float* row = d[1].ptr<float>(y);
        for (int x = kBorder; x < d[1].cols - kBorder; ++x) {
          const float v = row[x];
          if (std::abs(v) < 0.8f * kLeastContrast || !IsExtremum(d, y, x, v)) continue;
          Extremum e;
          e.octave = o;
          if (Settle(octaves[o], level, y, x, e)) out.push_back(e);
        }
      }
    }
  return out;
}

// Order in which the first n are the strongest of every part of the picture.
std::vector<Extremum> Spread(std::vector<Extremum> found, int width, int height) {
  std::stable_sort(found.begin(), found.end(), [](const Extremum& a, const Extremum& b) {
    return a.strength * std::exp2(1.0 * (a.octave + (a.level + a.interval) / kIntervals)) >
           b.strength * std::exp2(1.0 * (b.octave + (b.level + b.interval) / kIntervals));
  });
  std::vector<int> taken(kGrid * kGrid, 0), rank(found.size()), order(found.size());
  for (std::size_t i = 0; i < found.size(); ++i) {
    const float s = static_cast<float>(1 << found[i].octave);
    const int cx =
        std::clamp(static_cast<int>(found[i].x * s * kGrid / static_cast<float>(width)), 0, kGrid - 1);
    const int cy =
        std::clamp(static_cast<int>(found[i].y * s * kGrid / static_cast<float>(height)), 0, kGrid - 1);
    rank[i] = taken[cy * kGrid + cx]++;
  }
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return rank[a] < rank[b]; });
  std::vector<Extremum> out;
  for (int i : order) out.push_back(found[i]);
  return out;
}

void MakeGradients(Octave& o, int level) {
  if (!o.magnitude[level].empty()) return;
  const cv::Mat& b = o.blurred[level];
  cv::Mat gx(b.size(), CV_32F, cv::Scalar(0)), gy(b.size(), CV_32F, cv::Scalar(0));
  for (int y = 1; y + 1 < b.rows; ++y) {
    const float *r = b.ptr<float>(y), *up = b.ptr<float>(y - 1), *down = b.ptr<float>(y + 1);
    float *px = gx.ptr<float>(y), *py = gy.ptr<float>(y);
    for (int x = 1; x + 1 < b.cols; ++x) {
      px[x] = r[x + 1] - r[x - 1];
      py[x] = down[x] - up[x];
    }
  }
  cv::cartToPolar(gx, gy, o.magnitude[level], o.direction[level]);
  o.direction[level] *= kTurns / (2 * CV_PI);
}

// exp(-v) for 0 <= v < 16, to 1 %.
float Fade(float v) {
  static const std::vector<float> table = [] {
    std::vector<float> t(16 * 64 + 1);
    for (std::size_t i = 0; i < t.size(); ++i) t[i] = std::exp(-(static_cast<float>(i) + 0.5f) / 64);
    return t;
  }();
  return table[std::min(static_cast<std::size_t>(v * 64), table.size() - 1)];
}

// Main directions in degrees (Lowe 2004, 5).
std::vector<float> Directions(const Octave& o, const Extremum& e, int level, float sigma) {
  const cv::Mat &magnitude = o.magnitude[level], &direction = o.direction[level];
  const float spread = 1.5f * sigma;
  const int reach = static_cast<int>(std::lround(3 * spread)), cx = static_cast<int>(std::lround(e.x)),
            cy = static_cast<int>(std::lround(e.y));
  float raw[kDirectionBins] = {}, bins[kDirectionBins];
  for (int y = std::max(1, cy - reach); y <= std::min(magnitude.rows - 2, cy + reach); ++y)
    for (int x = std::max(1, cx - reach); x <= std::min(magnitude.cols - 2, cx + reach); ++x) {
      const float dx = static_cast<float>(x) - e.x, dy = static_cast<float>(y) - e.y;
      const float weight = Fade((dx * dx + dy * dy) / (2 * spread * spread));
      const int bin =
          static_cast<int>(direction.at<float>(y, x) * (static_cast<float>(kDirectionBins) / kTurns) + 0.5f);
      raw[bin % kDirectionBins] += weight * magnitude.at<float>(y, x);
    }
  float most = 0;
  const auto at = [&](const float* h, int i) { return h[(i + kDirectionBins) % kDirectionBins]; };
  for (int i = 0; i < kDirectionBins; ++i) {
    bins[i] =
        (at(raw, i - 2) + at(raw, i + 2)) / 16 + (at(raw, i - 1) + at(raw, i + 1)) / 4 + raw[i] * 6 / 16;
    most = std::max(most, bins[i]);
  }
  std::vector<float> out;
  for (int i = 0; i < kDirectionBins; ++i) {
    const float l = at(bins, i - 1), m = bins[i], r = at(bins, i + 1);
    if (m <= l || m <= r || m < kPeakShare * most) continue;
    const float bin = static_cast<float>(i) + 0.5f * (l - r) / (l - 2 * m + r);
    out.push_back(std::fmod(bin + kDirectionBins, static_cast<float>(kDirectionBins)) * 360.f /
                  kDirectionBins);
  }
  return out;
}

std::array<std::uint8_t, 128> Describe(const Octave& o, const Extremum& e, int level, float sigma,
                                       float angle_deg) {
  const cv::Mat &magnitude = o.magnitude[level], &direction = o.direction[level];
  const float cell = 3 * sigma;  // px per cell of the grid (Lowe 2004, 6.1)
  const float turn = angle_deg * static_cast<float>(CV_PI) / 180, c = std::cos(turn) / cell,
              s = std::sin(turn) / cell;
  const float own = angle_deg * kTurns / 360.f;
  const int reach = static_cast<int>(cell * std::sqrt(2.f) * (kSide + 1) * 0.5f + 0.5f);
  // The picture is smooth at this scale: every second sample is enough where cells are wide.
  const int step = cell > 6 ? 2 : 1;
  const int cx = static_cast<int>(std::lround(e.x)), cy = static_cast<int>(std::lround(e.y));
  // One more on each side, so that no sample needs a bounds check; direction wraps afterwards.
  float h[kSide + 2][kSide + 2][kTurns + 1] = {};
  for (int y = cy - reach; y <= cy + reach; y += step) {
    if (y < 1 || y >= magnitude.rows - 1) continue;
    const float *mag = magnitude.ptr<float>(y), *dir = direction.ptr<float>(y);
    int x = cx - reach;
    while (x < 1) x += step;
    for (; x <= std::min(magnitude.cols - 2, cx + reach); x += step) {
      const float dx = static_cast<float>(x) - e.x, dy = static_cast<float>(y) - e.y;
      const float u = dx * c + dy * s, v = dy * c - dx * s;
      const float column = u + kSide / 2 + 0.5f, row = v + kSide / 2 + 0.5f;  // of the padded grid
      if (!(column > 0 && column < kSide + 1 && row > 0 && row < kSide + 1)) continue;
      const float weight = mag[x] * Fade((u * u + v * v) / (0.5f * kSide * kSide));
      float t = dir[x] - own;
      if (t < 0) t += kTurns;
      const int r0 = static_cast<int>(row), c0 = static_cast<int>(column),
                t0 = std::min(static_cast<int>(t), kTurns - 1);
      const float fr = row - static_cast<float>(r0), fc = column - static_cast<float>(c0),
                  ft = t - static_cast<float>(t0);
      const float w11 = weight * fr * fc, w10 = weight * fr - w11, w01 = weight * fc - w11,
                  w00 = weight - weight * fr - w01;
      float *h00 = h[r0][c0] + t0, *h01 = h[r0][c0 + 1] + t0, *h10 = h[r0 + 1][c0] + t0,
            *h11 = h[r0 + 1][c0 + 1] + t0;
      h00[0] += w00 * (1 - ft);
      h00[1] += w00 * ft;
      h01[0] += w01 * (1 - ft);
      h01[1] += w01 * ft;
      h10[0] += w10 * (1 - ft);
      h10[1] += w10 * ft;
      h11[0] += w11 * (1 - ft);
      h11[1] += w11 * ft;
    }
  }
  float flat[kSide * kSide * kTurns];
  int k = 0;
  for (int r = 1; r <= kSide; ++r)
    for (int q = 1; q <= kSide; ++q) {
      h[r][q][0] += h[r][q][kTurns];
      for (int t = 0; t < kTurns; ++t) flat[k++] = h[r][q][t];
    }
  const float length = std::sqrt(std::inner_product(flat, flat + k, flat, 0.f));
  float sum = 1e-9f;
  for (float& f : flat) sum += f = std::min(f, kMostShare * length);
  std::array<std::uint8_t, 128> out{};
  for (int i = 0; i < k; ++i)
    out[i] = static_cast<std::uint8_t>(std::min(255.f, std::sqrt(flat[i] / sum) * 512.f + 0.5f));
  return out;
}

}  // namespace

std::vector<LocalFeature> FindLocalFeatures(const image::PlaneF& picture, const image::PlaneU8& valid,
                                            int most) {
  std::vector<LocalFeature> out;
  if (std::min(picture.width(), picture.height()) < kLeastOctaveSide) return out;
  const cv::Mat view(picture.height(), picture.width(), CV_32F, const_cast<float*>(picture.data().data()));
  std::vector<Octave> octaves = ScaleSpace(view);
  std::vector<Extremum> found = FindExtrema(octaves);
  const auto at = [](float v, int octave, int size) {
    return std::clamp(static_cast<int>(std::lround(v * static_cast<float>(1 << octave))), 0, size - 1);
  };
  std::erase_if(found, [&](const Extremum& e) {
    return !*valid.at(at(e.x, e.octave, valid.width()), at(e.y, e.octave, valid.height()));
  });
  for (const Extremum& e : Spread(std::move(found), picture.width(), picture.height())) {
    if (static_cast<int>(out.size()) >= most) break;
    const float sigma = kFirstSigma * std::pow(2.f, (static_cast<float>(e.level) + e.interval) / kIntervals);
    MakeGradients(octaves[e.octave], e.level);
    const float scale = static_cast<float>(1 << e.octave);
    for (const float angle : Directions(octaves[e.octave], e, e.level, sigma)) {
      if (static_cast<int>(out.size()) >= most) break;
      out.push_back({e.x * scale + 0.5f, e.y * scale + 0.5f, sigma * scale, angle, e.strength,
                     Describe(octaves[e.octave], e, e.level, sigma, angle)});
    }
  }
  return out;
}

}  // namespace samelight::measure
