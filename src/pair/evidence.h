// From what verification found to probabilities.
#pragma once

#include "pair/verify.h"

namespace samelight::pair {

// Natural logarithm of the likelihood ratio "the two show the same moment or at least the same things at that
// place" against "they do not", for a scan and a frame that were verified. Between -2 and 14.
double MomentLogRatio(const Verified& verified);
// The same when the frame was not among the scan's best candidates, or did not verify.
inline constexpr double kUnverifiedLogRatio = -1.5;
// Verified well enough for matched cells: a wrong map here is next to impossible.
bool GoodForCells(const Verified& verified);

}  // namespace samelight::pair
