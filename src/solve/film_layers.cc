#include "solve/film_layers.h"

#include <algorithm>

namespace samelight::solve {

Mat3 BalancedForFilm(const Mat3& balanced, const Mat3& unadapted, const Vec3& white) {
  // A camera's matrix may take a lamp's blue near zero or below: then layers cannot be told.
  constexpr double kLeast = 0.05;
  const Mat3 seen =
      Mul(Mul(kLayersFromRec2020, unadapted), Diagonal(Vec3{1 / white[0], 1 / white[1], 1 / white[2]}));
  const Vec3 grey = Mul(seen, Vec3{1, 1, 1});
  if (!(*std::min_element(grey.begin(), grey.end()) > kLeast * *std::max_element(grey.begin(), grey.end())))
    return balanced;
  Mat3 by_layers =
      Mul(Inverse(kLayersFromRec2020), Mul(Diagonal(Vec3{1 / grey[0], 1 / grey[1], 1 / grey[2]}), seen));
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) by_layers[r][c] = 0.5 * (by_layers[r][c] + balanced[r][c]);
  return by_layers;
}

}  // namespace samelight::solve
