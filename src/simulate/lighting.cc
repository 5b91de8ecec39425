#include "simulate/lighting.h"

#include <algorithm>
#include <cmath>

#include "color/cie_tables.h"
#include "simulate/random.h"
#include "simulate/tables.h"

namespace samelight::simulate {
namespace {

using color::Spectrum;
constexpr int kBands = color::kSpectrumCount;

Spectrum Mix(const Spectrum& a, const Spectrum& b, double share_b) {
  Spectrum out;
  for (int k = 0; k < kBands; ++k) out[k] = (1 - share_b) * a[k] + share_b * b[k];
  return out;
}

Spectrum Daylight(double cct) { return UnitY(color::DaylightSpectrum(cct)); }
Spectrum Planck(double kelvin) { return UnitY(color::PlanckSpectrum(kelvin)); }

}  // namespace

Spectrum UnitY(const Spectrum& power) {
  double y = 0;
  for (int k = 0; k < kBands; ++k)
    y += power[k] *
         color::kCie1931Cmf[(color::kSpectrumFirstNm - color::kCmfFirstNm) / color::kCmfStepNm + k][1];
  Spectrum out;
  for (int k = 0; k < kBands; ++k) out[k] = power[k] / y;
  return out;
}

Spectrum ThroughLeaves(const Spectrum& daylight, double share_through) {
  const Spectrum& leaf = Column("usgs", "aspen_leaf_green");
  const double peak = *std::max_element(leaf.begin(), leaf.begin() + 50);
  Spectrum through;
  for (int k = 0; k < kBands; ++k) through[k] = daylight[k] * leaf[k] / peak;
  return UnitY(Mix(daylight, through, share_through));
}

Spectrum NarrowBands(double red, double green, double blue) {
  Spectrum out{};
  const double peak[3] = {630, 525, 460}, width[3] = {9, 16, 11}, power[3] = {red, green, blue};
  for (int k = 0; k < kBands; ++k)
    for (int c = 0; c < 3; ++c) {
      const double d = (color::WavelengthNm(k) - peak[c]) / width[c];
      out[k] += power[c] * std::exp(-d * d / 2);
    }
  return UnitY(out);
}

Spectrum Flash() { return Daylight(5600); }

Lighting MakeLighting(LightKind kind, std::uint64_t seed, bool mixed) {
  Random random(seed, {0x11647, static_cast<std::uint64_t>(kind)});
  Lighting light;
  switch (kind) {
    case LightKind::kWindow:
      light = {"mill loft by the window", Daylight(random.Uniform(5600, 7200)),
               Daylight(random.Uniform(4800, 5600)), 0.6, 0.5};
      // Light that comes back from wooden boards.
      for (int k = 0; k < kBands; ++k) light.fill[k] *= 0.3 + Column("usgs", "wood_pine")[k];
      light.fill = UnitY(light.fill);
      light.sideways = true;
      light.level_ev = -6.5;
      if (mixed) light.fill = Mix(light.fill, Planck(random.Uniform(2700, 3000)), 0.45);
      break;
    case LightKind::kNoonSun:
      light = {"mill yard at noon", Mix(Daylight(random.Uniform(5100, 5500)), Planck(5200), 0.3),
               Daylight(random.Uniform(10000, 14000)), 0.75, 0.6};
      break;
    case LightKind::kOpenShade:
      light = {"north wall of the mill", Daylight(random.Uniform(7600, 9000)),
               Daylight(random.Uniform(6300, 7200)), 0.6, 0.3};
      light.level_ev = -2.5;
      break;
    case LightKind::kUnderTrees: {
      const Spectrum day = Daylight(random.Uniform(5600, 6600));
      light = {"under the alders", ThroughLeaves(day, random.Uniform(0.15, 0.28)),
               ThroughLeaves(Daylight(8000), random.Uniform(0.35, 0.5)), 0.5, 0.5};
      light.level_ev = -4;
      break;
    }
    case LightKind::kEveningSun:
      light = {"mill pond in evening sun",
               Mix(Daylight(4000), Planck(random.Uniform(2900, 3500)), random.Uniform(0.5, 0.8)),
               Daylight(random.Uniform(7500, 9500)), 0.65, 0.7};
      light.level_ev = -2;
      break;
    case LightKind::kBlueHour:
      light = {"weir at the blue hour", Daylight(random.Uniform(9500, 13000)),
               Daylight(random.Uniform(7500, 9000)), 0.6, 0.3};
      light.level_ev = -9;
      light.dim = true;
      if (mixed) light.fill = Mix(light.fill, Planck(2800), 0.25);
      break;
    case LightKind::kBulbs:
      light = {"supper in the barn", Planck(random.Uniform(2750, 3050)), Planck(random.Uniform(2600, 2800)),
               0.6, 0.4};
      light.level_ev = -9;
      light.dim = true;
      if (mixed) {
        light.fill = Mix(light.fill, Daylight(7500), 0.3);
        light.sideways = true;
      }
      break;
    case LightKind::kCandles:
      light = {"candles on the long table", Planck(random.Uniform(1950, 2150)),
               Planck(random.Uniform(2300, 2600)), 0.55, 0.5};
      light.level_ev = -11;
      light.dim = true;
      break;
    case LightKind::kLed:
      light = {"dance on the threshing floor",
               Mix(Planck(2900), NarrowBands(0.9, 0.8, 0.8), random.Uniform(0.4, 0.7)),
               NarrowBands(random.Uniform(0.7, 1.1), random.Uniform(0.5, 0.8), random.Uniform(0.8, 1.3)), 0.6,
               0.4};
      light.level_ev = -10;
      light.dim = true;
      light.sideways = true;
      break;
    case LightKind::kOvercast:
    case LightKind::kCount:
      light = {"meadow under cloud", Daylight(random.Uniform(6300, 7000)),
               Daylight(random.Uniform(6800, 7600)), 0.6, 0.2};
      light.level_ev = -1.5;
      break;
  }
  return light;
}

}  // namespace samelight::simulate
