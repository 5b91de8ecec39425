#include "codec/orient.h"

#include <cstddef>
#include <cstdint>
#include <cstring>

namespace samelight::codec {

template <class T>
void PlaceRows(const T* rows, int first, int count, int width, int height, int orientation,
               image::Raster<T, 3>& upright) {
  if (orientation < 1 || orientation > 8) orientation = 1;
  if (orientation == 1) {
    std::memcpy(upright.row(first), rows, sizeof(T) * 3 * std::size_t(width) * std::size_t(count));
    return;
  }
  // Upright place of stored pixel (x, y), by the meaning of "row 0" and "column 0" in the standard's table.
  const bool turned = Turned(orientation);
  const bool back_x = orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8;
  const bool back_y = orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7;
  for (int x0 = 0; x0 < width; x0 += 64) {  // blocks, so that turned pictures stay in the cache
    const int x1 = x0 + 64 < width ? x0 + 64 : width;
    for (int r = 0; r < count; ++r) {
      const int y = first + r, v = back_y ? height - 1 - y : y;
      const T* from = rows + 3 * (std::size_t(r) * std::size_t(width) + std::size_t(x0));
      for (int x = x0; x < x1; ++x, from += 3) {
        const int u = back_x ? width - 1 - x : x;
        std::memcpy(turned ? upright.at(v, u) : upright.at(u, v), from, 3 * sizeof(T));
      }
    }
  }
}

template void PlaceRows(const std::uint8_t*, int, int, int, int, int, image::RgbU8&);
template void PlaceRows(const std::uint16_t*, int, int, int, int, int, image::RgbU16&);
template void PlaceRows(const float*, int, int, int, int, int, image::RgbF&);

}  // namespace samelight::codec
