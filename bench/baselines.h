// Published transfers of colour statistics from one picture to another, as baselines. All take and give
// sRGB-encoded pictures; the two pictures need not have the same size. Thread safe.
#pragma once

#include "base/matrix.h"
#include "image/raster.h"

namespace samelight::bench {

// The l-alpha-beta space of Ruderman, Cronin, Chiao 1998, with the matrices of Reinhard, Ashikhmin, Gooch,
// Shirley 2001, "Color Transfer between Images", IEEE CG&A 21(5), 34-41. LMS below 1/255 count as that, so
// that black has a logarithm (common practice).
Vec3 LAlphaBetaFromRgb(const Vec3& rgb);
Vec3 RgbFromLAlphaBeta(const Vec3& lab);
// The matrix RGB to LMS, and back, as printed there.
extern const Mat3 kReinhardLmsFromRgb, kReinhardRgbFromLms;

// Mean and standard deviation of each axis of l-alpha-beta brought to those of `target` (Reinhard et al.
// 2001). `linear_light`: on decoded values, else on the encoded ones as most implementations do.
image::RgbF MatchMeanAndDeviation(const image::RgbF& source, const image::RgbF& target, bool linear_light);

// The linear Monge-Kantorovich map between Gaussians of covariances A and B (symmetric, positive definite):
// T = A^-1/2 (A^1/2 B A^1/2)^1/2 A^-1/2; Pitie and Kokaram 2007, "The linear Monge-Kantorovitch linear colour
// mapping for example-based colour transfer", CVMP, eq. 12 (from Olkin and Pukelsheim 1982).
Mat3 MongeKantorovich(const Mat3& covariance_from, const Mat3& covariance_to);

// x -> mean of target + T (x - mean of source), in encoded RGB or in CIELAB.
enum class MapSpace { kEncodedRgb, kLab };
image::RgbF MatchCovariance(const image::RgbF& source, const image::RgbF& target, MapSpace space);

// Each channel's distribution brought to the target's by its rank (histogram specification: Gonzalez and
// Woods, "Digital Image Processing", ch. 3). Works on sorted values, not on bins; equal values stay equal.
image::RgbF MatchHistograms(const image::RgbF& source, const image::RgbF& target);

// Mean and covariance (divided by n) of the pixels.
struct Moments {
  Vec3 mean{};
  Mat3 covariance{};
};
Moments MomentsOf(const image::RgbF& picture);

}  // namespace samelight::bench
