// How far pictures of one place disagree on where its things stand.
#pragma once

#include <array>
#include <vector>

namespace samelight::pair {

// A matched place of a scan and how far the frame's thing stands from where a smooth map expects it.
struct Stray {
  double x = 0, y = 0;                // fractions of the scan's sides
  std::array<double, 2> by_px{0, 0};  // across, down
};

// For frames that were all matched with one scan: between two frames the mean distance of what they say of
// the same tiles of the scan, in parts of the scatter inside a tile; the median over all pairs of frames that
// share enough tiles. Near 1 where nothing moved but noise. 0: not known.
double HowFarApart(const std::vector<std::vector<Stray>>& frames);

}  // namespace samelight::pair
