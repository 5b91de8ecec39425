// How one source (another body, or a camera's JPEG) is brought to the reference source.
#pragma once

#include <array>
#include <vector>

#include "base/matrix.h"

namespace samelight::solve {

// A matched place: the source's own linear colour against the reference's unified colour, linear BT.2020.
struct RelationSample {
  Vec3 source{}, reference{};
  int group = 0;  // samples of one frame (JPEG) or one light (raw) share three gains
};

struct SourceRelation {
  std::vector<double> tone_in, tone_out;  // log10 axes; empty for scene-referred sources
  Mat3 matrix = kIdentity3;               // rows sum to 1
  std::vector<Vec3> gain_log10;           // one per group
  double residual_log10 = 0;              // median absolute residual over samples and channels
  bool fitted = false;                    // false: too few samples, the prior is returned
};

// How much a linear colour counts where a white is asked for: 1 for a grey, a quarter where its channels lie
// 0.12 log10 apart, near 0 for strong colours.
double Greyness(const Vec3& rgb);

// Inverse of a typical camera rendering, used as the prior and where nothing is known. log10 in, log10 out.
SourceRelation PriorRelation(bool display_referred, int groups);

// Least squares on log10 values with a Cauchy loss (Ceres); priors keep the curve monotone and near the
// typical one, the matrix near identity and the gains near zero. Gains of a display-referred source are then
// set right on near-greys.
SourceRelation FitRelation(bool display_referred, const std::vector<RelationSample>& samples, int groups,
                           double gain_sigma_log10);

}  // namespace samelight::solve
