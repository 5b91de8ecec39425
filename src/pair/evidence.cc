#include "pair/evidence.h"

#include <algorithm>
#include <cmath>

namespace samelight::pair {
bool Verifies(const Verified& v) { return v.distinct >= 5 && v.evidence > 2; }

double Shared(const Verified& v) { return static_cast<double>(v.inliers.size()) * v.overlap; }

double PlaceLogRatio(const Verified& v) {
  if (!Verifies(v)) return kUnverifiedLogRatio;
  return std::clamp(1.1 * (v.evidence - 4.0) + 12 * (v.inlier_ratio - 0.06), -2.0, 14.0);
}

double MomentLogRatio(const Verified& v, double clearest, double behind) {
  if (!Verifies(v)) return kUnverifiedLogRatio;
  const double place = GoodForCells(v) ? clearest : PlaceLogRatio(v);
  return std::max(-12.0, place + std::min(behind, 0.0));
}

bool GoodForCells(const Verified& v) { return v.distinct >= 12 && v.evidence > 8; }

}  // namespace samelight::pair
