// EXIF orientation (CIPA DC-008 4.6.5, tag 274), applied while rows are stored.
#pragma once

#include "image/raster.h"

namespace samelight::codec {

// True when the upright picture has the stored sides exchanged (5..8).
inline bool Turned(int orientation) { return orientation >= 5 && orientation <= 8; }

// Puts `count` stored rows (`width` pixels of three values, from stored row `first` on) at their upright
// place. `upright` has the upright size of a stored picture of `width` x `height`. An orientation
// outside 1..8 counts as 1.
template <class T>
void PlaceRows(const T* rows, int first, int count, int width, int height, int orientation,
               image::Raster<T, 3>& upright);

}  // namespace samelight::codec
