#include "pair/evidence.h"

#include <algorithm>
#include <cmath>

namespace samelight::pair {
bool Verifies(const Verified& v) { return v.distinct >= 5 && v.evidence > 2; }

double Shared(const Verified& v) { return static_cast<double>(v.inliers.size()) * v.overlap; }

double MomentLogRatio(const Verified& v, double behind) {
  if (!Verifies(v)) return kUnverifiedLogRatio;
  const double alone = std::clamp(1.1 * (v.evidence - 4.0) + 12 * (v.inlier_ratio - 0.06), -2.0, 14.0);
  return std::max(-12.0, alone + std::min(behind, 0.0));
}

bool GoodForCells(const Verified& v) { return v.distinct >= 12 && v.evidence > 8; }

}  // namespace samelight::pair
