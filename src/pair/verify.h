// Do two pictures show the same things? Local matches that agree geometrically, in one or several moving
// parts.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "measure/descriptors.h"
#include "pair/matcher.h"

namespace samelight::pair {

// Features with places in px of an upright picture whose long side is kPlaceSide.
inline constexpr float kPlaceSide = 1024;
struct View {
  View(const measure::Features& features, int width_px, int height_px, std::string hash = {});
  const measure::Features* features;
  float width = 0, height = 0;
  std::string hash;  // of the photograph's content; may be empty
};

struct Inlier {
  int a = 0, b = 0;  // indices of the keypoints
  int part = 0;      // which moving part, 0 is the largest
};

using Homography = std::array<double, 9>;

struct Verified {
  bool mirrored = false;
  int matches = 0;  // before geometry
  std::vector<Inlier> inliers;
  // Of the largest part, px to px as in View, row-major, last element 1.
  Homography b_from_a{1, 0, 0, 0, 1, 0, 0, 0, 1};
  // Distinct places (in both pictures) of the inliers: repeated texture counts once.
  int distinct = 0;
  // -log10 of the number of as good agreements expected by chance among unrelated matches; <= 0: none.
  double evidence = 0;
  // Fraction of a's features lying inside b under b_from_a, of those features the fraction that are inliers,
  // and the fraction of a's area that b shows.
  double inlier_ratio = 0, overlap = 0;
};

// Keeps what agrees among `matches`. Deterministic.
Verified Agree(const View& a, const View& b, const std::vector<Match>& matches, bool mirrored);

// Matches up to `most_features` of each, plain and mirrored, and keeps the better. kRatio as in Lowe 2004.
inline constexpr float kRatio = 0.8f;
Verified Verify(const View& a, const View& b, int most_features);

// b's place of a's place; nullopt behind the horizon.
std::optional<std::array<double, 2>> Transform(const Homography& h, double x, double y);
Homography Inverse(const Homography& h);

}  // namespace samelight::pair
