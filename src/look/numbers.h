// A look as a flat list of numbers, as it is fitted and learned; for double and for dual numbers.
#pragma once

#include <array>
#include <cmath>

#include "look/model.h"
#include "record/learned_look.h"

namespace samelight::look {

// m1 off-diagonals 6, three layers of (gamma, floor, ceiling, log toe, log shoulder) 15, m2 off-diagonals 6,
// six bumps of (hue, chroma, lightness) 18, interimage off-diagonals 6.
inline constexpr int kLookSize = record::kLookNumbers;
inline constexpr int kLayerStart = 6, kM2Start = 21, kBumpStart = 27, kInterimageStart = 45;

using LookVector = std::array<double, kLookSize>;

template <class T>
void RowsSumToOne(const T* off, T m[3][3]) {
  m[0][1] = off[0];
  m[0][2] = off[1];
  m[1][0] = off[2];
  m[1][2] = off[3];
  m[2][0] = off[4];
  m[2][1] = off[5];
  m[0][0] = T(1.0) - off[0] - off[1];
  m[1][1] = T(1.0) - off[2] - off[3];
  m[2][2] = T(1.0) - off[4] - off[5];
}

// `contrast` and `black` are a scan's own change of all slopes (relative) and floors (log10).
template <class T>
LookOf<T> LookFrom(const T* p, const T& contrast, const T& black) {
  using std::exp;
  LookOf<T> l;
  RowsSumToOne(p, l.m1);
  RowsSumToOne(p + kInterimageStart, l.interimage);
  for (int c = 0; c < 3; ++c) {
    const T* q = p + kLayerStart + 5 * c;
    l.layer[c] = {q[0] * (T(1.0) + contrast), q[1] + black, q[2], exp(q[3]), exp(q[4])};
  }
  RowsSumToOne(p + kM2Start, l.m2);
  for (int i = 0; i < record::kHueBumps; ++i) {
    const T* q = p + kBumpStart + 3 * i;
    l.bump[i] = {q[0], q[1], q[2]};
  }
  return l;
}

// `p`: kLookSize numbers.
record::Look RecordFrom(const double* p);

}  // namespace samelight::look
