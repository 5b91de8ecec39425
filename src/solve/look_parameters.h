// What is believed of a look before any film is seen.
#pragma once

#include <vector>

#include "look/numbers.h"

namespace samelight::solve {

using look::kBumpStart;
using look::kInterimageStart;
using look::kLayerStart;
using look::kLookSize;
using look::kM2Start;
using look::LookFrom;
using look::LookVector;
using look::RowsSumToOne;

// Where a film look lies, and how far each number strays (one standard deviation). From memory: slopes of
// scans of colour negatives on a display lie around 1.2 to 1.7, blacks a little lifted, the shoulder long;
// the interimage effect adds about a tenth of chroma.
LookVector LookPriorMean();
LookVector LookPriorSigma();
// Inverse of the covariance of looks that stray so, `share` times as far; row by row. The curves of the three
// layers stray together: film is made, and printed, so that a grey stays grey from shadow to light, and what
// is left of crossing is a part of what films differ by (common practice; that part as fits of simulated
// sessions of several stocks have it).
std::vector<double> LookPriorInformation(double share);

inline record::Look RecordFrom(const LookVector& p) { return look::RecordFrom(p.data()); }

}  // namespace samelight::solve
