#include "solve/hold_grey.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "record/learned_look.h"
#include "solve/light_rule.h"
#include "solve/predict.h"

namespace samelight::solve {

const GreyHold& HoldGrey() {
  static const GreyHold hold = [] {
    LightState usual;
    usual.level_log10 = record::kUsualLevel;
    const Vec3 offset = LightRule({}, BuiltInRule()).For(usual).mean;
    const LookVector look = LookPriorMean();
    PredictVector p{};
    std::copy(look.begin(), look.end(), p.begin());
    for (int c = 0; c < 3; ++c) p[kOffsetAt + c] = offset[c];
    const double grey = std::pow(10.0, record::kUsualLevel);
    PredictJacobian j;
    PredictLab(p, {grey, grey, grey}, j);
    Eigen::Matrix3d by_offset;
    Eigen::Matrix<double, 3, kLookSize> by_look;
    for (int r = 0; r < 3; ++r) {
      for (int c = 0; c < 3; ++c) by_offset(r, c) = j[r][kOffsetAt + c];
      for (int k = 0; k < kLookSize; ++k) by_look(r, k) = j[r][k];
    }
    const Eigen::Matrix<double, 3, kLookSize> moved = -by_offset.partialPivLu().solve(by_look);
    GreyHold out;
    for (int c = 0; c < 3; ++c)
      for (int k = 0; k < kLookSize; ++k) out[c][k] = moved(c, k);
    return out;
  }();
  return hold;
}

Vec3 HoldGrey(const LookVector& stray) {
  const GreyHold& hold = HoldGrey();
  Vec3 out{0, 0, 0};
  for (int c = 0; c < 3; ++c)
    for (int k = 0; k < kLookSize; ++k) out[c] += hold[c][k] * stray[k];
  return out;
}

}  // namespace samelight::solve
