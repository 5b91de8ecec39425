// A lookup table of 17 x 17 x 17 nodes fitted to colours, for references that are fitted on the truth itself.
#pragma once

#include <array>
#include <vector>

#include "bench/shown.h"

namespace samelight::bench {

// From linear RGB (0 and up) to CIELAB, trilinear between nodes that stand evenly on log(1 + x / 0.01), from
// 0 to 16.
class ColourTable {
 public:
  static constexpr int kSide = 17;
  static constexpr int kNodes = kSide * kSide * kSide;

  // Adds pixels: `linear` times `gain` should give `lab`. Every `step`-th pixel.
  void Add(const image::RgbF& linear, double gain, const LabF& lab, int step = 1);
  // Least squares over all that was added, plus `smooth` times the squared differences of neighbouring nodes
  // (it fills the nodes that no pixel touches). Conjugate gradients, until the residual fell by 1e-6. Forgets
  // what was added.
  void Fit(double smooth);

  Vec3 operator()(const float* linear, double gain) const;
  LabF Apply(const image::RgbF& linear, double gain) const;

 private:
  struct Place {
    int node;  // corner nearest to zero
    float fraction[3];
  };
  static Place Find(const float* linear, double gain);

  std::vector<std::array<float, 3>> value_;
  // Normal equations: per node, its products with the 27 nodes around it, and with CIELAB.
  std::vector<std::array<double, 27>> product_;
  std::vector<std::array<double, 3>> wanted_;
};

}  // namespace samelight::bench
