// Which rolls render colour alike.
#pragma once

#include <array>
#include <vector>

#include "record/pair.h"

namespace samelight::pair {

// What film and lab make of the frames' colours, on log2 axes: how red minus green and blue minus green of a
// scan follow those of the frame and its level, and how level follows level. What a lab does to a single scan
// (density, colour) is taken out, so the two whites of scan and frame do not count.
inline constexpr int kColourTerms = 8;
struct RollColour {
  int scans = 0;  // that could tell
  std::array<double, kColourTerms> value{},
      spread{};  // and the standard error of each (jackknife over scans)
};

// From the matches of the scans of one roll (a: scan; b: frame; linear BT.2020). Least squares over all
// cells.
RollColour ColourOf(const std::vector<const record::Correspondence*>& matches);

// True when the two differ beyond chance: chi-squared of the differences over 8 terms above 40, which chance
// exceeds once in 300,000 were errors known; they are guessed from few scans. False with fewer than four
// scans on either side.
bool RenderUnlike(const RollColour& a, const RollColour& b);

}  // namespace samelight::pair
