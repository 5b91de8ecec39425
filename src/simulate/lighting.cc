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

Spectrum WhiteDiode(double warmth) {
  Spectrum out{};
  const double centre = 560 + 45 * warmth, blue = 1.1 - 0.85 * warmth;
  for (int k = 0; k < kBands; ++k) {
    const double nm = color::WavelengthNm(k);
    const double b = (nm - 452) / 10, p = (nm - centre) / (nm < centre ? 48 : 58);
    out[k] = blue * std::exp(-b * b / 2) + std::exp(-p * p / 2);
  }
  return UnitY(out);
}

namespace {

// The same kinds of light from other sources.
Lighting MakeUnseenLighting(LightKind kind, std::uint64_t seed, bool mixed) {
  Random random(seed, {0x11648, static_cast<std::uint64_t>(kind)});
  Lighting light = MakeLighting(kind, seed, mixed);
  switch (kind) {
    case LightKind::kWindow:  // green woods before it, white walls behind
      light.name = "chapel by the window";
      light.key = ThroughLeaves(Daylight(random.Uniform(6000, 9000)), random.Uniform(0.05, 0.2));
      light.fill = Daylight(random.Uniform(5200, 6500));
      if (mixed) light.fill = Mix(light.fill, WhiteDiode(0.9), 0.45);
      break;
    case LightKind::kNoonSun:  // haze: softer, the sky less blue
      light = {"orchard in haze", Daylight(random.Uniform(5500, 6100)), Daylight(random.Uniform(6500, 8500)),
               0.6, 0.35};
      light.level_ev = -0.7;
      break;
    case LightKind::kOpenShade:
      light.name = "behind the chapel";
      light.key = Daylight(random.Uniform(9500, 13000));
      light.fill = Daylight(random.Uniform(5600, 6500));
      break;
    case LightKind::kUnderTrees:
      light.name = "hazel walk";
      light.key = ThroughLeaves(Daylight(random.Uniform(5200, 5800)), random.Uniform(0.3, 0.5));
      light.fill = ThroughLeaves(Daylight(6800), random.Uniform(0.5, 0.65));
      break;
    case LightKind::kEveningSun:
      light.name = "stubble field, last sun";
      light.key = Planck(random.Uniform(2500, 3000));
      light.fill = Daylight(random.Uniform(9000, 13000));
      break;
    case LightKind::kBlueHour:
      light.name = "chapel yard after sunset";
      light.key = Mix(Daylight(random.Uniform(12000, 18000)), Planck(2200), random.Uniform(0.0, 0.15));
      light.fill = Daylight(random.Uniform(9000, 14000));
      if (mixed) light.fill = Mix(light.fill, WhiteDiode(0.8), 0.3);
      break;
    case LightKind::kBulbs:
      light.name = "supper under diode lamps";
      light.key = WhiteDiode(random.Uniform(0.75, 1.0));
      light.fill = WhiteDiode(random.Uniform(0.55, 0.8));
      if (mixed) light.fill = Mix(light.fill, Daylight(8000), 0.3);
      break;
    case LightKind::kCandles:
      light.name = "lanterns in the hazel walk";
      light.key = Planck(random.Uniform(1800, 2000));
      light.fill = Mix(Planck(2400), WhiteDiode(1.0), random.Uniform(0.2, 0.5));
      break;
    case LightKind::kLed:
      light.name = "dance in the tithe barn";
      light.key = Mix(WhiteDiode(0.6), NarrowBands(1.2, 0.5, 0.5), random.Uniform(0.3, 0.6));
      light.fill = NarrowBands(random.Uniform(0.3, 1.3), random.Uniform(0.3, 0.8), random.Uniform(0.4, 1.5));
      break;
    case LightKind::kOvercast:
    case LightKind::kCount:
      light.name = "hill in thin cloud";
      light.key = Daylight(random.Uniform(5700, 6300));
      light.fill = Daylight(random.Uniform(7600, 9500));
      break;
  }
  return light;
}

}  // namespace

Lighting MakeLighting(LightKind kind, std::uint64_t seed, bool mixed, World world) {
  if (world == World::kUnseen) return MakeUnseenLighting(kind, seed, mixed);
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
