// Matched places of two pictures that show the same things, with their colours.
#pragma once

#include <vector>

#include "image/raster.h"
#include "measure/measure.h"
#include "pair/verify.h"
#include "record/pair.h"

namespace samelight::pair {

// A picture made ready for dense matching: half the analysis size, area-averaged in linear light (the blur
// that keeps grain out).
struct Prepared {
  image::RgbF pixels;  // linear BT.2020, D65
  image::PlaneF luminance;
  image::PlaneU8 valid;          // 1 where nothing is clipped or masked
  image::PlaneU8 labels, faces;  // as in measure::Analysis
};
Prepared Prepare(const measure::Analysis& analysis);

// Cells of a and b under the map `verified.b_from_a`, refined by dense flow on locally normalised log
// luminance (once; colours are never used for matching). A cell is kept where forward and backward flow agree
// within 1.5 px of the analysis picture, where textured surroundings correlate above 0.6, and where nothing
// is clipped or masked; a scan (`a_is_scan`) may show black, a frame not. At most `most` are returned, rare
// colours first, then flat ones; by rising place in a. Deterministic, thread safe.
std::vector<record::Cell> MatchCells(const Prepared& a, const Prepared& b, const Verified& verified, int most,
                                     bool a_is_scan);

}  // namespace samelight::pair
