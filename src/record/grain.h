// The grain of a film as its scans show it.
#pragma once

#include <array>
#include <vector>

namespace samelight::record {

// Noise in density, D = -log10 of display-linear sRGB, of three layers with one shared shape of spectrum.
struct GrainModel {
  // Standard deviation of D of one scan pixel, at the densities `density` (ascending), for R, G, B.
  std::vector<double> density;
  std::array<std::vector<double>, 3> sigma;
  // Radial power spectrum on the film, at the frequencies `per_mm` (ascending, from 0): variance per
  // (cycle/mm)^2 for a pixel variance of 1. Nothing lies above the last frequency.
  std::vector<double> per_mm, power;
  // Correlation between the layers: of R and G, G and B, R and B.
  double red_green = 0, green_blue = 0, red_blue = 0;
  // Size of a scan pixel on the film, and the film picture's long side.
  double pitch_um = 0;
  double film_long_side_mm = 36;
  int patches = 0;  // flat places that were measured; 0: not measured
  bool operator==(const GrainModel&) const = default;
};

}  // namespace samelight::record
