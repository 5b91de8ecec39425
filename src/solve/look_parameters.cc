#include "solve/look_parameters.h"

namespace samelight::solve {

LookVector LookPriorMean() {
  LookVector m{};
  for (int c = 0; c < 3; ++c) {
    double* q = m.data() + kLayerStart + 5 * c;
    q[0] = 1.50;
    q[1] = -2.3;
    q[2] = 0.0;
    q[3] = std::log(0.28);
    q[4] = std::log(0.50);
  }
  // Developing layers hold each other back, which makes colours stronger: red under green, green under red,
  // blue under both.
  double* pull = m.data() + kInterimageStart;
  pull[0] = -0.04;
  pull[2] = -0.10;
  pull[3] = -0.04;
  pull[4] = -0.06;
  pull[5] = -0.08;
  return m;
}

LookVector LookPriorSigma() {
  LookVector s{};
  // Layers that are neighbours in the spectrum mix more than red and blue. m1 stays small: what it takes away
  // in linear light makes a strong colour lose a layer altogether, while the interimage effect only bends it.
  for (int i = 0; i < 6; ++i) {
    const bool red_with_blue = i == 1 || i == 4;
    s[i] = red_with_blue ? 0.01 : 0.03;
    s[kM2Start + i] = red_with_blue ? 0.04 : 0.06;
    s[kInterimageStart + i] = red_with_blue ? 0.08 : 0.12;
  }
  for (int c = 0; c < 3; ++c) {
    double* q = s.data() + kLayerStart + 5 * c;
    q[0] = 0.30;
    q[1] = 0.45;
    q[2] = 0.05;
    q[3] = 0.45;
    q[4] = 0.45;
  }
  for (int i = 0; i < record::kHueBumps; ++i) {
    double* q = s.data() + kBumpStart + 3 * i;
    q[0] = 6;
    q[1] = 0.12;
    q[2] = 2.5;
  }
  return s;
}

}  // namespace samelight::solve
