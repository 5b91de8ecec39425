// A picture ready for the screen.
#pragma once

#include <cstdint>
#include <vector>

namespace samelight::preview {

// Marks of one pixel (Shown::marks).
inline constexpr std::uint8_t kClippedHigh = 1;  // a channel at its upper end: no detail is left there
inline constexpr std::uint8_t kClippedLow = 2;   // all channels at black
inline constexpr std::uint8_t kOutOfGamut = 4;   // the colour lay outside the delivery space and was drawn in

struct Shown {
  int width = 0, height = 0;
  // Row by row from the top, 0xffRRGGBB, in the monitor's own values. Outside the picture: 0 (transparent).
  std::vector<std::uint32_t> argb;
  std::vector<std::uint8_t> marks;  // one per pixel, or empty when they were not asked for
  bool empty() const { return argb.empty(); }
};

}  // namespace samelight::preview
