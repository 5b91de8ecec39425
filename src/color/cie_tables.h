// Tables of the CIE, compiled in: CIE 015:2018, ISO/CIE 11664-1 (observer) and 11664-2 (illuminants).
#pragma once

#include <array>

#include "base/matrix.h"
#include "color/spectrum.h"

namespace samelight::color {

// Colour-matching functions (x, y, z) of the CIE 1931 2-degree observer, 360..830 nm at 5 nm: every fifth row
// of the 1 nm table.
inline constexpr int kCmfFirstNm = 360;
inline constexpr int kCmfStepNm = 5;
inline constexpr int kCmfCount = 95;
extern const std::array<Vec3, kCmfCount> kCie1931Cmf;

// Relative spectral power on the grid of Spectrum, 100 at 560 nm.
extern const Spectrum kIlluminantA;
extern const Spectrum kIlluminantD65;
// Daylight components (after Judd, MacAdam, Wyszecki 1964), on the grid of Spectrum.
extern const Spectrum kDaylightS0, kDaylightS1, kDaylightS2;

}  // namespace samelight::color
