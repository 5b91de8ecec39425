// The lights of an invented day.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "color/spectrum.h"
#include "simulate/world.h"

namespace samelight::simulate {

// Two sources share a scene: `key` where it is bright or near, `fill` elsewhere (sun and sky, window and
// bulb). Spectra are relative power scaled so that a perfect diffuser has Y = 1.
struct Lighting {
  std::string name;  // "mill yard at noon"
  color::Spectrum key{}, fill{};
  double key_share = 0.5;  // mean share of the key
  double contrast = 0.5;   // how strongly the share follows brightness, 0..1
  bool sideways =
      false;            // the share runs across the picture (window and bulb) instead of following brightness
  double level_ev = 0;  // brightness of the scene against full sun, EV (0: sun; -11: candles)
  bool dim = false;     // fast film, high ISO
  bool flash = false;   // the photographer's flash fires on some frames
};

// Kinds of light that the invented wedding knows.
enum class LightKind {
  kWindow,
  kNoonSun,
  kOpenShade,
  kUnderTrees,
  kEveningSun,
  kBlueHour,
  kBulbs,
  kCandles,
  kLed,
  kOvercast,
  kCount
};

// `kind` with its colours drawn from `seed`. `mixed` lets daylight and bulbs mix where that happens indoors.
// In the unseen world a kind has other sources: haze, lamps of white diodes, lanterns, other stage lamps.
Lighting MakeLighting(LightKind kind, std::uint64_t seed, bool mixed, World world = World::kUsual);

// Daylight through leaves: `daylight` times a leaf's transmittance, taken as proportional to its measured
// reflectance (both share the absorption of chlorophyll; common practice), mixed with what comes around the
// leaves.
color::Spectrum ThroughLeaves(const color::Spectrum& daylight, double share_through);
// Three narrow bands of a stage lamp, Gaussian, peaks in nm (invented).
color::Spectrum NarrowBands(double red, double green, double blue);
// A lamp of a white diode: a narrow blue band and the broad one of its phosphor (invented after the usual
// form; from memory). `warmth` 0..1: from about 5500 K to about 2300 K.
color::Spectrum WhiteDiode(double warmth);
// Electronic flash: daylight of 5600 K (common practice).
color::Spectrum Flash();
// Scaled so that XYZ of the perfect diffuser has Y = 1.
color::Spectrum UnitY(const color::Spectrum& power);

}  // namespace samelight::simulate
