#include "pair/evidence.h"

#include <algorithm>

namespace samelight::pair {

double MomentLogRatio(const Verified& v) {
  if (v.distinct < 5) return kUnverifiedLogRatio;
  return std::clamp(1.1 * (v.evidence - 4.0) + 12 * (v.inlier_ratio - 0.06), -2.0, 14.0);
}

bool GoodForCells(const Verified& v) { return v.distinct >= 12 && v.evidence > 8; }

}  // namespace samelight::pair
