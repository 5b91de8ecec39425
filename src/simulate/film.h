// A colour negative: three layers that see, hold each other back, and form dyes.
#pragma once

#include <cstdint>
#include <string>

#include "image/raster.h"
#include "simulate/curve.h"
#include "simulate/sensor.h"
#include "simulate/world.h"

namespace samelight::simulate {

// An invented film stock. Layers in the order red-, green-, blue-sensitive; their dyes are cyan, magenta,
// yellow.
struct Stock {
  std::string name;  // "Weir 160"
  double iso = 160;
  bool black_and_white = false;
  Sensitivities layers;                        // relative response per unit energy
  std::array<Curve, 3> dye_from_log_exposure;  // peak density of a layer's dye, developed alone
  double inhibition[3][3] =
      {};                  // log10 exposure that layer `row` loses per unit of density in layer `column`
  Sensitivities dye;       // spectral density at dye amount 1, side absorptions included
  Sensitivities mask;      // spectral density of what is left of the coloured couplers when no dye is formed
  double most_dye = 2.6;   // dye amount at which the coloured coupler is used up
  color::Spectrum base{};  // base plus fog
  double grain = 0.007;    // RMS density of the green layer at dye amount 1, pixel of 37 um
  double halation = 0.02;  // share of the light that comes back into the red layer from the base
};

// The stocks of the invented wedding; `seed` bends every curve and spectrum a little. Order: a slow one, a
// fast one, another slow one with other colours, and a black-and-white one. The unseen world has three others
// in these places.
std::vector<Stock> MakeStocks(std::uint64_t seed, World world = World::kUsual);

struct Development {
  double over_ev = 0;  // exposure against the box speed: rating and error together
  double push_ev = 0;  // longer development: steeper curves
  bool grain = false;
  std::uint64_t grain_seed = 0;
  double pixel_um = 37;  // size of a pixel on the film; smaller pixels see more grain
  bool halation = true;
};

// Amounts of the three dyes from exposures in units of the stock's own grey reference (1 is the perfect
// diffuser at box speed under daylight of 5500 K).
image::RgbF Develop(const Stock& stock, const image::RgbF& exposure, const Development& how);
// One pixel without grain and halation; log10 exposure against an 18 % grey.
Vec3 DyesOf(const Stock& stock, const Vec3& log_exposure, double push_ev);

// Exposure of the layers for a view: response over the response to the perfect diffuser in daylight of 5500
// K.
Vec3 DaylightReference(const Stock& stock);

// Spectral density of the developed film for dye amounts.
color::Spectrum DensityOf(const Stock& stock, const Vec3& dyes);

}  // namespace samelight::simulate
