// The sharpening that brings frames to the sharpness of scans.
#pragma once

#include <array>
#include <vector>

#include "render/edges.h"
#include "render/sharpen.h"

namespace samelight::render {

// Response of scans over that of frames, both at pictures of `long_side_px`.
struct Acutance {
  int long_side_px = 0;  // 0: not known
  // At k / 32 cycles a pixel, and how much to believe it: one over the variance of its logarithm; 0: not
  // known.
  std::array<double, Edge::kBins> ratio{}, weight{};
  // How far the scans' mean profile goes beyond its sides, as a share of the step; 0 or more.
  double overshoot = 0;
};

// From the same edges in scans and frames, both at `long_side_px`: what the subjects' own softness takes then
// falls out. Responses are compared at the same detail of the subject (EdgePair::scale). Not known from fewer
// than 40. Edges of one picture are alike: errors are taken twice as large as they scatter, and never below 4
// %.
Acutance CompareEdges(const std::vector<EdgePair>& edges, int long_side_px);

// For pictures delivered at another size: the ratio holds for cycles a picture, so the filter grows with the
// picture (to a Gaussian of 2 px) and sees lower frequencies of the ratio when it shrinks. The gain is the
// one whose response is nearest the ratio: weighted least squares of logarithms up to 0.4 cycles a pixel,
// drawn to 0 as if that were known to 0.5; -0.8 to 1. Rims are allowed a tenth of the step nearby, and more
// as the scans have them. Gain 0 when `acutance` is not known.
Sharpening SharpeningFor(const Acutance& acutance, int long_side_px);

}  // namespace samelight::render
