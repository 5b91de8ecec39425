// Three-component vectors and 3x3 matrices in double precision, row-major: m[row][column].
#pragma once

#include <array>
#include <cmath>

namespace samelight {

using Vec3 = std::array<double, 3>;
using Mat3 = std::array<std::array<double, 3>, 3>;

inline constexpr Mat3 kIdentity3{{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};

inline constexpr Vec3 Mul(const Mat3& m, const Vec3& v) {
  return {m[0][0] * v[0] + m[0][1] * v[1] + m[0][2] * v[2], m[1][0] * v[0] + m[1][1] * v[1] + m[1][2] * v[2],
          m[2][0] * v[0] + m[2][1] * v[1] + m[2][2] * v[2]};
}

inline constexpr Mat3 Mul(const Mat3& a, const Mat3& b) {
  Mat3 r{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) r[i][j] = a[i][0] * b[0][j] + a[i][1] * b[1][j] + a[i][2] * b[2][j];
  return r;
}

inline constexpr Mat3 Diagonal(const Vec3& d) { return {{{d[0], 0, 0}, {0, d[1], 0}, {0, 0, d[2]}}}; }

// Inverse by cofactors. A singular matrix gives infinities or NaN; callers check the determinant where that can
// happen.
inline constexpr double Determinant(const Mat3& m) {
  return m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
         m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
}
inline constexpr Mat3 Inverse(const Mat3& m) {
  const double s = 1.0 / Determinant(m);
  Mat3 r{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      const int a = (j + 1) % 3, b = (j + 2) % 3, c = (i + 1) % 3, d = (i + 2) % 3;
      r[i][j] = (m[a][c] * m[b][d] - m[a][d] * m[b][c]) * s;
    }
  return r;
}

}  // namespace samelight
