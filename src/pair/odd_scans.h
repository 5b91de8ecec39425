// Scans that are no plain picture of one moment.
#pragma once

#include <vector>

#include "pair/film.h"

namespace samelight::pair {

// True when the scan holds two pictures on one piece of film: two of the frames that verify cover much of the
// same part of it, each with many local matches but hardly any in common, and show nothing of each other.
// `shown`: frames that were verified with this scan.
bool IsDoubleExposure(const View& scan, const std::vector<View>& frames, const std::vector<Shown>& shown);

// Takes out the cells of a scan (a) that a light leak has coloured: parts along its edge in which red lies
// far above what the rest of the picture lets expect of the frame (b), and further than blue does. Returns
// the number taken out.
std::size_t DropLeakedCells(std::vector<record::Cell>& cells);

}  // namespace samelight::pair
