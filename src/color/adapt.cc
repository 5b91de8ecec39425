#include "color/adapt.h"

namespace samelight::color {

const char* Name(AdaptMethod method) {
  switch (method) {
    case AdaptMethod::kBradford:
      return "Bradford";
    case AdaptMethod::kCat16:
      return "CAT16";
  }
  return "";
}

Mat3 ConeFromXyz(AdaptMethod method) {
  switch (method) {
    case AdaptMethod::kBradford:
      return {{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}};
    case AdaptMethod::kCat16:
      return {{{0.401288, 0.650173, -0.051461},
               {-0.250268, 1.204414, 0.045854},
               {-0.002079, 0.048952, 0.953127}}};
  }
  return kIdentity3;
}

Mat3 Adaptation(const Vec3& from_white, const Vec3& to_white, AdaptMethod method, double degree) {
  const Mat3 cone_from_xyz = ConeFromXyz(method);
  const Vec3 from = Mul(cone_from_xyz, from_white), to = Mul(cone_from_xyz, to_white);
  Vec3 gain;
  for (int c = 0; c < 3; ++c) gain[c] = degree * to[c] / from[c] + (1 - degree);
  return Mul(Inverse(cone_from_xyz), Mul(Diagonal(gain), cone_from_xyz));
}

}  // namespace samelight::color
