// What the layers of a colour negative see, as far as a camera can tell it.
#pragma once

#include "base/matrix.h"

namespace samelight::solve {

// Exposure of the red, green and blue sensitive layers from linear BT.2020; rows sum to 1. Least squares in
// daylight of 5500 K over the measured surfaces of simulate/data, simulated stocks through measured cameras:
// the red layer sees further into the red than BT.2020's red.
inline constexpr Mat3 kLayersFromRec2020 = {
    {{1.300, -0.377, 0.077}, {-0.058, 0.953, 0.105}, {-0.012, 0.062, 0.950}}};

// The matrix from white-balanced camera values to linear BT.2020 by which a light is taken back as film's
// printing takes it back: by a gain for each layer, not for each channel of the camera.
// `balanced`: the camera's matrix for values balanced in its own channels (rows sum to 1). `unadapted`: from
// values that are not balanced, nothing adapted, any scale (record::RawColour). `white`: multipliers that
// make this light's greys neutral. Returns the mean of both ways: rows sum to 1.
Mat3 BalancedForFilm(const Mat3& balanced, const Mat3& unadapted, const Vec3& white);

}  // namespace samelight::solve
