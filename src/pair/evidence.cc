#include "pair/evidence.h"

#include <algorithm>
#include <cmath>

namespace samelight::pair {
namespace {
constexpr double kShareSlope = 2.5;
}  // namespace

bool Verifies(const Verified& v) { return v.distinct >= 5 && v.evidence > 2; }

double Shared(const Verified& v) { return static_cast<double>(v.inliers.size()) * v.overlap; }

double MomentLogRatio(const Verified& v, double most_shared) {
  if (!Verifies(v)) return kUnverifiedLogRatio;
  const double alone = std::clamp(1.1 * (v.evidence - 4.0) + 12 * (v.inlier_ratio - 0.06), -2.0, 14.0);
  const double share = std::clamp(Shared(v) / std::max(most_shared, 1e-6), 1e-6, 1.0);
  return std::max(-12.0, alone + kShareSlope * std::log(share));
}

bool GoodForCells(const Verified& v) { return v.distinct >= 12 && v.evidence > 8; }

}  // namespace samelight::pair
