// Tone of a frame, of its scan, and of the camera's own rendering, from exposure to density.
#pragma once

#include <vector>

#include "record/correction.h"
#include "record/handle.h"
#include "record/pair.h"
#include "record/photo.h"

namespace samelight::solve {

// Density is -log10 of display-linear luminance (0 is white), along the grey axis; exposure is against
// mid-grey on the frame's unified scale.
struct ToneCurves {
  std::vector<double> ev;                   // ascending, -6 to +4
  std::vector<double> frame, before, scan;  // density at ev; NaN where nothing is known. scan may be empty
  bool scan_measured = false;               // from matched places; else the full match stands for it
  struct Grip {                             // where a person takes hold of the curve
    record::Handle handle;
    double ev = 0, density = 0;
  };
  std::vector<Grip> grips;  // toe, gamma, shoulder
};

// `matched` may be null. `film`: there is a film look at all (else `scan` stays empty without matched
// places).
ToneCurves ToneOf(const record::Correction& correction, const record::Photo& frame, double log2_level,
                  const record::Correspondence* matched, bool film);

}  // namespace samelight::solve
