#include "solve/look_parameters.h"

#include <Eigen/Dense>
#include <array>

namespace samelight::solve {
namespace {

// Of a curve's gamma, floor, ceiling, log toe and log shoulder: how far one layer strays from another, as
// part of how far all three do.
constexpr std::array<double, 5> kApart = {0.25, 0.3, 0.45, 0.55, 0.25};

}  // namespace

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

std::vector<double> LookPriorInformation(double share) {
  std::vector<double> information(kLookSize * kLookSize, 0.0);
  const LookVector sigma = LookPriorSigma();
  for (int i = 0; i < kLookSize; ++i)
    information[i * kLookSize + i] = 1 / (share * share * sigma[i] * sigma[i]);
  for (std::size_t i = 0; i < kApart.size(); ++i) {
    const auto at = [&](int layer) { return kLayerStart + 5 * layer + static_cast<int>(i); };
    const double all = share * share * sigma[at(0)] * sigma[at(0)], own = all * kApart[i] * kApart[i];
    const Eigen::Matrix3d covariance =
        Eigen::Matrix3d::Constant(all - own) + own * Eigen::Matrix3d::Identity();
    const Eigen::Matrix3d inverse = covariance.inverse();
    for (int a = 0; a < 3; ++a)
      for (int b = 0; b < 3; ++b) information[at(a) * kLookSize + at(b)] = inverse(a, b);
  }
  return information;
}

}  // namespace samelight::solve
