// The colour of a region as a dot.
#pragma once

#include <QtGui/QColor>

#include "base/matrix.h"

namespace samelight::window {

// CIELAB (D65) as an sRGB colour, lifted to at least L* 35 so that it is seen on the instruments' ground.
QColor SwatchOf(const Vec3& lab);

}  // namespace samelight::window
