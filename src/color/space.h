// RGB spaces: primaries, whites, encodings. Double precision reference; every function is thread safe. Values
// of linear RGB and XYZ are relative to white = 1 and may be negative or above 1; NaN in gives NaN out.
#pragma once

#include "base/matrix.h"

namespace samelight::color {

// sRGB: IEC 61966-2-1. Display P3: SMPTE EG 432-1 primaries, D65, sRGB encoding. Adobe RGB (1998). BT.2020:
// ITU-R BT.2020-2. ROMM: ISO 22028-2, white D50.
enum class Space { kSrgb, kDisplayP3, kAdobeRgb, kRec2020, kRomm };

// For messages; empty for a value that is none of the above.
const char* Name(Space space);

// White of the space, CIE xy, 2-degree observer.
struct Xy {
  double x = 0, y = 0;
};
inline constexpr Xy kD65{0.3127, 0.3290};
inline constexpr Xy kD50{0.3457, 0.3585};
Xy White(Space space);

// Linear RGB of `space` to CIE XYZ (Y of white = 1), relative to the space's own white, not adapted (SMPTE RP
// 177).
Mat3 XyzFromRgb(Space space);
Mat3 RgbFromXyz(Space space);

// Y of linear BT.2020 (ITU-R BT.2020-2, table 4).
constexpr double LuminanceRec2020(const Vec3& rgb) {
  return 0.2627 * rgb[0] + 0.6780 * rgb[1] + 0.0593 * rgb[2];
}

// Linear RGB to linear RGB; Bradford-adapted when the whites differ (ROMM).
Mat3 RgbFromRgb(Space to, Space from);

// XYZ of a chromaticity at Y = 1 (y = 0 gives infinities), and the chromaticity of XYZ (black gives NaN).
Vec3 XyzFromXy(Xy xy);
Xy XyFromXyz(const Vec3& xyz);

// Linear to the non-linear encoding of the space and back, by the formulas of the standards named above;
// odd-symmetric for negative input, goes on above 1. Knots of sRGB are rounded in its standard: there a value
// goes round within 1e-7, else to rounding. BT.2020 has the unrounded alpha and beta.
double Encode(Space space, double linear);
double Decode(Space space, double encoded);

}  // namespace samelight::color
