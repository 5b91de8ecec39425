// Where the cut of a framing lies on the whole picture.
#pragma once

#include <QtCore/QPointF>
#include <array>

#include "record/order.h"

namespace samelight::window {

// Corners of what is kept, in fractions of the picture as its file has it (width_px x height_px), from the
// upper left one of the turned picture round clockwise. A cut that straightening would carry outside is made
// smaller about its middle, as record::Framing says.
std::array<QPointF, 4> CutOf(const record::Framing& framing, double width_px, double height_px);

}  // namespace samelight::window
