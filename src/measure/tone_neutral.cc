#include "measure/tone_neutral.h"

#include <algorithm>
#include <cmath>

namespace samelight::measure {

ToneNeutral ToneNeutral::Constant(const Vec3& neutral) {
  ToneNeutral n;
  for (int k = 0; k < kKnots; ++k)
    n.Set(k, std::log2(neutral[0] / neutral[1]), std::log2(neutral[2] / neutral[1]));
  return n;
}

ToneNeutral ToneNeutral::Toward1(double part) const {
  ToneNeutral n = *this;
  for (auto& knot : n.log2_)
    for (double& v : knot) v *= part;
  return n;
}

Vec3 ToneNeutral::At(double luminance) const {
  const double tone = luminance > 0 ? std::log2(luminance) : Tone(0);
  const double at = std::clamp((tone - Tone(0)) / (Tone(1) - Tone(0)), 0.0, kKnots - 1.0);
  const int k = std::min(static_cast<int>(at), kKnots - 2);
  const double t = at - k;
  return {std::exp2(log2_[k][0] * (1 - t) + log2_[k + 1][0] * t), 1,
          std::exp2(log2_[k][1] * (1 - t) + log2_[k + 1][1] * t)};
}

}  // namespace samelight::measure
