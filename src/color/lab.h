// CIELAB (ISO/CIE 11664-4). Every finite input is allowed: below (6/29)^3 of the white the formula is a
// straight line that goes on through zero, so negative XYZ gives finite values (L* below 0) and goes round.
// NaN in gives NaN out. Thread safe.
#pragma once

#include "base/matrix.h"
#include "color/space.h"

namespace samelight::color {

// XYZ relative to `white` (XYZ of the white, Y = 1) to L* (0..100), a*, b*.
Vec3 LabFromXyz(const Vec3& xyz, const Vec3& white);
Vec3 XyzFromLab(const Vec3& lab, const Vec3& white);
// Linear BT.2020 (D65) to CIELAB relative to D65, and back.
Vec3 LabFromRec2020(const Vec3& linear);
Vec3 Rec2020FromLab(const Vec3& lab);

}  // namespace samelight::color
