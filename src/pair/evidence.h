// From what verification found to probabilities.
#pragma once

#include "pair/verify.h"

namespace samelight::pair {

// How much of a scan a frame shows: agreeing features times the part of the scan that is in the frame.
double Shared(const Verified& verified);
// Natural logarithm of the likelihood ratio "the two show the same things" against "they do not", for a scan
// and a frame that were verified. Between -2 and 14; kUnverifiedLogRatio where it does not verify.
double PlaceLogRatio(const Verified& verified);
// The same of "the same things at the same time". `clearest`: the largest PlaceLogRatio of the frames that
// were verified against this scan: of frames beyond chance none shows the place more than another, however
// much of it they share. `behind`: how much less likely this frame is than the likeliest of them, a logarithm
// <= 0 (BehindTheLikeliest). Between -12 and 14.
double MomentLogRatio(const Verified& verified, double clearest, double behind);
// The same when the frame was not among the scan's best candidates, or did not verify.
inline constexpr double kUnverifiedLogRatio = -1.5;
// Agreement that chance cannot explain.
bool Verifies(const Verified& verified);
// Verified well enough for matched cells: a wrong map here is next to impossible.
bool GoodForCells(const Verified& verified);

}  // namespace samelight::pair
