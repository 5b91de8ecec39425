// Spectra on one common grid, and the step from spectrum to colour.
#pragma once

#include <array>
#include <span>

#include "base/matrix.h"
#include "base/result.h"

namespace samelight::color {

// 380..780 nm at 5 nm. What a value means (reflectance factor 0..1, relative power, response) is the
// caller's.
inline constexpr int kSpectrumFirstNm = 380;
inline constexpr int kSpectrumStepNm = 5;
inline constexpr int kSpectrumCount = 81;
using Spectrum = std::array<double, kSpectrumCount>;

inline constexpr double WavelengthNm(int index) { return kSpectrumFirstNm + kSpectrumStepNm * index; }

// What a list of samples means outside its own first and last wavelength.
enum class Outside {
  kHold,  // the end value goes on: surfaces and lights (CIE 015:2018, 7.2.3 allows it where data are missing)
  kZero,  // nothing: sensitivities
};

// Linear interpolation of (wavelength_nm[i], value[i]) onto the grid. kInvalidArgument when the lists are
// empty, of different length, not finite, or the wavelengths do not ascend strictly. Thread safe, as all of
// this header.
Result<Spectrum> ResampleSpectrum(std::span<const double> wavelength_nm, std::span<const double> value,
                                  Outside outside);

// CIE XYZ, 2-degree observer, of a surface with `reflectance` under `illuminant` (relative power, any scale):
// sum over the grid, Y = 1 for the perfect diffuser (CIE 015:2018, 7.1). An illuminant without power gives
// NaN.
Vec3 XyzOfReflectance(const Spectrum& reflectance, const Spectrum& illuminant);
// XYZ of the illuminant itself, Y = 1.
Vec3 XyzOfIlluminant(const Spectrum& illuminant);

// Relative power of CIE daylight, 100 at 560 nm: S0 + M1 S1 + M2 S2 (CIE 015:2018, 4.1.2; M1 and M2 not
// rounded). 4000..25000 K, clamped to it. NaN gives NaN.
Spectrum DaylightSpectrum(double cct_k);
// Relative power of a full radiator by Planck's law, c2 = 1.4388e-2 m K, 100 at 560 nm. 500..100000 K,
// clamped to it. NaN gives NaN. Illuminant A is PlanckSpectrum(2855.5): its table was made with an older c2.
Spectrum PlanckSpectrum(double temperature_k);

}  // namespace samelight::color
