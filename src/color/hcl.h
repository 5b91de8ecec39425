// Hue, chroma and lightness for the bumps of a look: Oklab (Ottosson 2020, "A perceptual color space for
// image processing") of the working space.
#pragma once

#include "base/matrix.h"

namespace samelight::color {

// Oklab of a linear BT.2020, D65 colour `rgb` is  OklabFromRootLms() * cuberoot(LmsFromRec2020() * rgb),  the
// cube root taken of each component. The matrices are given out so that other scalar types can evaluate it.
// The rows of LmsFromRec2020 are Ottosson's through XYZ, scaled (by less than 5e-4) to the sum 1: equal r, g,
// b give equal l, m, s.
const Mat3& LmsFromRec2020();
const Mat3& Rec2020FromLms();
const Mat3& OklabFromRootLms();
const Mat3& RootLmsFromOklab();

// Linear BT.2020 to Oklab: L (0 black, 1 for r = g = b = 1), a, b; and back. The cube root keeps the sign, so
// every finite input, zero, negative and above 1 too, gives a finite value and goes round. NaN gives NaN.
// Thread safe.
Vec3 OklabFromRec2020(const Vec3& linear);
Vec3 Rec2020FromOklab(const Vec3& oklab);

struct Hcl {
  double hue_deg = 0;    // [0, 360), 0 along +a; 0 where chroma is 0
  double chroma = 0;     // >= 0; 0.26 for the full red of sRGB
  double lightness = 0;  // Oklab L
};
Hcl HclFromOklab(const Vec3& oklab);
Vec3 OklabFromHcl(const Hcl& hcl);
Hcl HclFromRec2020(const Vec3& linear);
Vec3 Rec2020FromHcl(const Hcl& hcl);

}  // namespace samelight::color
