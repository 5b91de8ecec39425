#include "pair/evidence.h"

#include <algorithm>
#include <cmath>

namespace samelight::pair {

bool Verifies(const Verified& v) { return v.distinct >= 5 && v.evidence > 2; }

double MomentLogRatio(const Verified& v, int most_inliers) {
  if (!Verifies(v)) return kUnverifiedLogRatio;
  const double alone = std::clamp(1.1 * (v.evidence - 4.0) + 12 * (v.inlier_ratio - 0.06), -2.0, 14.0);
  const double share = static_cast<double>(v.inliers.size()) / std::max(most_inliers, 1);
  return std::max(-12.0, alone + 2.5 * std::log(std::min(share, 1.0)));
}

bool GoodForCells(const Verified& v) { return v.distinct >= 12 && v.evidence > 8; }

}  // namespace samelight::pair
