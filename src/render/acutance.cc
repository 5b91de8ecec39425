#include "render/acutance.h"

#include <algorithm>
#include <cmath>

namespace samelight::render {

constexpr int kBins = Edge::kBins;

namespace {

double ResponseAt(const Edge& edge, double bin) {
  const int below = std::min(static_cast<int>(bin), kBins - 2);
  const double share = std::min(bin - below, 1.0);
  return edge.response[below] + share * (edge.response[below + 1] - edge.response[below]);
}

double OvershootOf(const std::vector<EdgePair>& edges) {
  double low = 0, high = 1;
  for (int b = Edge::kProfile / 4; b < Edge::kProfile * 3 / 4; ++b) {
    double mean = 0;
    for (const EdgePair& pair : edges) mean += pair.scan.profile[b] / static_cast<double>(edges.size());
    low = std::min(low, mean);
    high = std::max(high, mean);
  }
  return 0.5 * (high - 1 - low);
}

}  // namespace

Acutance CompareEdges(const std::vector<EdgePair>& edges, int long_side_px) {
  Acutance out;
  if (edges.size() < 40) return out;
  const double count = static_cast<double>(edges.size());
  out.long_side_px = long_side_px;
  out.overshoot = OvershootOf(edges);
  out.ratio.fill(1);
  for (int k = 1; k < kBins; ++k) {
    double film = 0, digital = 0, off = 0;
    for (const EdgePair& pair : edges) {
      film += ResponseAt(pair.scan, k / pair.scale) / count;
      digital += pair.frame.response[k] / count;
    }
    if (film < 0.04 || digital < 0.04) break;
    const double ratio = film / digital;
    for (const EdgePair& pair : edges) {
      const double one = ResponseAt(pair.scan, k / pair.scale) - ratio * pair.frame.response[k];
      off += one * one;
    }
    const double error = 2 * std::sqrt(off) / count / film;
    out.ratio[k] = ratio;
    out.weight[k] = 1 / (error * error + 0.0016);
  }
  return out;
}

Sharpening SharpeningFor(const Acutance& acutance, int long_side_px) {
  Sharpening out;
  if (acutance.long_side_px <= 0 || long_side_px <= 0) return out;
  const double scale = static_cast<double>(long_side_px) / acutance.long_side_px;
  out.radius_px = std::clamp(scale, 1.0, 2.0);
  out.rim = std::clamp(0.1 + 3 * acutance.overshoot, 0.1, 1.0);
  double least = 1e300;
  for (double gain = -0.8; gain <= 1.0001; gain += 0.01) {
    double squares = gain * gain / 0.25;
    for (int k = 1; k <= 12; ++k) {
      const double at = k * scale;  // where the ratio was measured
      if (at > kBins - 1) break;
      const int bin = std::min(static_cast<int>(at), kBins - 2);
      const double share = at - bin, weight = std::min(acutance.weight[bin], acutance.weight[bin + 1]);
      if (weight <= 0 && !(share == 0 && acutance.weight[bin] > 0)) continue;
      const double ratio = acutance.ratio[bin] + share * (acutance.ratio[bin + 1] - acutance.ratio[bin]);
      const double off =
          std::log(std::max(ratio, 0.05)) - std::log(SharpenResponse(gain, out.radius_px, k / 32.0));
      squares += off * off * (share == 0 ? acutance.weight[bin] : weight);
    }
    if (squares < least) {
      least = squares;
      out.gain = gain;
    }
  }
  return out;
}

}  // namespace samelight::render
