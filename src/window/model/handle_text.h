// How the value of a handle is written.
#pragma once

#include <QtCore/QString>

namespace samelight::window {

// Always with a sign, but for what rounds to zero: "+0.30", "−0.04", "0.00".
QString HandleText(double value, int digits);

}  // namespace samelight::window
