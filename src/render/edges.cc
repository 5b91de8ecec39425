#include "render/edges.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "image/resize.h"

namespace samelight::render {
namespace {

constexpr int kBins = Edge::kBins, kProfile = Edge::kProfile;

constexpr int kAlong = 12;         // rows of one place
constexpr int kAcross = 10;        // columns on either side that must hold one step and nothing else
constexpr double kMostSpread = 9;  // px^2, of which the blur is 4
constexpr float kLeastStep = 24, kDarkest = 8, kBrightest = 247;

image::PlaneF Turned(const image::PlaneF& in, const Cancel& cancel) {
  image::PlaneF out(in.height(), in.width());
  for (int y = 0; y < in.height() && !cancel.requested(); ++y)
    for (int x = 0; x < in.width(); ++x) *out.at(y, x) = *in.at(x, y);
  return out;
}

// Where a row of the blurred picture has its step around column x: the centroid of its slope. False when it
// has none, or more than one.
bool StepOf(const float* row, int x, double& at, double& step) {
  double sum = 0, all = 0, first = 0, second = 0;
  for (int i = -kAcross; i < kAcross; ++i) {
    const double d = row[x + i + 1] - row[x + i];
    sum += d;
    all += std::abs(d);
    first += d * (i + 0.5);
    second += d * (i + 0.5) * (i + 0.5);
  }
  if (std::abs(sum) < kLeastStep || std::abs(sum) < 0.8 * all) return false;
  at = first / sum;
  step = sum;
  // Out of focus: wider than the blur and a few pixels.
  return second / sum - at * at < kMostSpread;
}

// Profile and response of the edge through column x + at of the middle row. False when there is none in the
// luma.
bool Look(const image::PlaneF& luma, int x, int y, double at, double slope, Edge& out) {
  std::array<double, kProfile> sum{}, count{};
  const double shorter = 1 / std::hypot(1.0, slope);
  for (int j = 0; j < kAlong; ++j) {
    const float* row = luma.row(y + j);
    for (int i = -kAcross; i <= kAcross; ++i) {
      const double away = (i - at - slope * (j - 0.5 * (kAlong - 1))) * shorter;
      const int bin = static_cast<int>(std::floor(4 * away)) + kProfile / 2;
      if (bin < 0 || bin >= kProfile) continue;
      sum[bin] += row[x + i];
      ++count[bin];
    }
  }
  int last = -1;
  for (int b = 0; b < kProfile; ++b) {
    if (count[b] == 0) continue;
    sum[b] /= count[b];
    for (int gap = last + 1; gap < b; ++gap)
      sum[gap] = last < 0 ? sum[b] : sum[last] + (sum[b] - sum[last]) * (gap - last) / (b - last);
    last = b;
  }
  if (last < kProfile * 3 / 4) return false;
  for (int b = last + 1; b < kProfile; ++b) sum[b] = sum[last];
  std::array<double, kBins> response{};
  for (int b = 1; b < kProfile; ++b) {
    const double place = (b - 0.5 * kProfile) / 4;  // px from the edge
    const double window = 0.5 + 0.5 * std::cos(std::numbers::pi * place / (kProfile / 8));
    for (int k = 0; k < kBins; ++k)
      response[k] += (sum[b] - sum[b - 1]) * window * std::cos(2 * std::numbers::pi * k / 32.0 * place);
  }
  // Both sides' means over the outer quarter.
  double low = 0, high = 0;
  for (int b = 0; b < kProfile / 4; ++b) {
    low += sum[b] / (kProfile / 4);
    high += sum[kProfile - 1 - b] / (kProfile / 4);
  }
  if (std::abs(response[0]) < 0.5 * kLeastStep || std::abs(high - low) < 0.5 * kLeastStep) return false;
  for (int k = 0; k < kBins; ++k) out.response[k] = static_cast<float>(response[k] / response[0]);
  for (int b = 0; b < kProfile; ++b) out.profile[b] = static_cast<float>((sum[b] - low) / (high - low));
  out.step = static_cast<float>(high - low);
  out.slope = static_cast<float>(slope);
  return true;
}

// Edges nearer to a column than to a row.
void Standing(const image::PlaneF& luma, const image::PlaneF& calm, bool turned, const Cancel& cancel,
              std::vector<Edge>& edges) {
  for (int y = 0; y + kAlong <= calm.height() && !cancel.requested(); y += kAlong)
    for (int x = kAcross + 2; x + kAcross + 2 < calm.width(); ++x) {
      const float* middle = calm.row(y + kAlong / 2);
      const float slope_x = middle[x + 1] - middle[x - 1];
      // A peak of the slope across, and steeper across than along.
      if (std::abs(slope_x) < 6 || std::abs(slope_x) < std::abs(middle[x + 2] - middle[x]) ||
          std::abs(slope_x) < std::abs(middle[x] - middle[x - 2]) ||
          std::abs(slope_x) < std::abs(*calm.at(x, y + kAlong / 2 + 1) - *calm.at(x, y + kAlong / 2 - 1)))
        continue;
      double at[kAlong], step[kAlong], mean = 0, sum_yx = 0, sum_yy = 0, sum_x = 0;
      bool one = true;
      for (int j = 0; one && j < kAlong; ++j) {
        const float* row = calm.row(y + j);
        one = StepOf(row, x, at[j], step[j]);
        const auto [low, high] = std::minmax(row[x - kAcross], row[x + kAcross]);
        one = one && low > kDarkest && high < kBrightest;
        if (!one) break;
        const double t = j - 0.5 * (kAlong - 1);
        mean += step[j] / kAlong;
        sum_x += at[j] / kAlong;
        sum_yx += t * at[j];
        sum_yy += t * t;
      }
      if (!one) continue;
      const double slope = sum_yx / sum_yy;
      double off = 0;
      for (int j = 0; j < kAlong; ++j) {
        const double straight = at[j] - sum_x - slope * (j - 0.5 * (kAlong - 1));
        off += straight * straight / kAlong;
        one = one && std::abs(step[j] - mean) < 0.3 * std::abs(mean);
      }
      // Straight; and slanted, so that its rows sample the profile between the pixels.
      if (!one || off > 0.06 || std::abs(slope) < 0.06 || std::abs(slope) > 1 || std::abs(sum_x) > 3)
        continue;
      Edge edge;
      if (!Look(luma, x, y, sum_x, slope, edge)) continue;
      edge.lying = turned;
      edge.x = static_cast<float>((x + sum_x + 0.5) / calm.width());
      edge.y = static_cast<float>((y + 0.5 * kAlong) / calm.height());
      if (turned) std::swap(edge.x, edge.y);
      edges.push_back(edge);
      x += kAcross;
    }
}

}  // namespace

std::vector<Edge> FindEdges(const image::RgbU8& encoded, const Cancel& cancel) {
  std::vector<Edge> edges;
  if (encoded.width() < 4 * kAcross || encoded.height() < 4 * kAcross) return edges;
  image::PlaneF luma(encoded.width(), encoded.height());
  for (int y = 0; y < encoded.height(); ++y) {
    const std::uint8_t* v = encoded.row(y);
    float* out = luma.row(y);
    for (int x = 0; x < encoded.width(); ++x, v += 3)
      out[x] = 0.2126f * static_cast<float>(v[0]) + 0.7152f * static_cast<float>(v[1]) +
               0.0722f * static_cast<float>(v[2]);
  }
  if (cancel.requested()) return edges;
  const image::PlaneF calm = image::Blur(luma, 2);
  Standing(luma, calm, false, cancel, edges);
  if (cancel.requested()) return edges;
  Standing(Turned(luma, cancel), Turned(calm, cancel), true, cancel, edges);
  return edges;
}

std::vector<EdgePair> SameEdges(const std::vector<Edge>& scan, int scan_width_px, int scan_height_px,
                                const std::vector<Edge>& frame, int frame_width_px, int frame_height_px,
                                const PlaceMap& frame_from_scan) {
  std::vector<EdgePair> pairs;
  const double reach_px = 0.012 * std::max(frame_width_px, frame_height_px);
  for (const Edge& a : scan) {
    const auto [x, y] = frame_from_scan(a.x, a.y);
    const Edge* best = nullptr;
    double nearest = reach_px;
    for (const Edge& b : frame) {
      if (a.lying != b.lying || std::abs(a.slope - b.slope) > 0.2) continue;
      const double share = b.step / a.step;  // of one sign
      if (!(share > 0.6 && share < 1.6)) continue;
      const double away = std::hypot((b.x - x) * frame_width_px, (b.y - y) * frame_height_px);
      if (away < nearest) {
        nearest = away;
        best = &b;
      }
    }
    if (best == nullptr) continue;
    // What 20 px of the scan are in the frame, across the edge.
    const double step_px = 20;
    const auto [x2, y2] = a.lying ? frame_from_scan(a.x, a.y + step_px / scan_height_px)
                                  : frame_from_scan(a.x + step_px / scan_width_px, a.y);
    const double there = std::hypot((x2 - x) * frame_width_px, (y2 - y) * frame_height_px);
    if (there > 0.4 * step_px && there < 2.5 * step_px) pairs.push_back({a, *best, step_px / there});
  }
  return pairs;
}

}  // namespace samelight::render
