// Writes an invented wedding session with its truth.
#pragma once

#include <filesystem>
#include <string>

#include "base/cancel.h"
#include "base/progress.h"
#include "base/result.h"
#include "simulate/plan.h"

namespace samelight::simulate {

struct SessionSummary {
  int lights = 0, frames = 0, scans = 0;
  int photographs = 0;  // base photographs used; 0: painted scenes
  int skipped = 0;      // base photographs that could not be read; their views are painted
  double nudge_de = 0;  // mean CIEDE2000 that the lab's per-scan corrections make
};

// Writes below `dir` (created; must not hold a `truth` folder yet):
//   digital/body-N/*.dng|*.jpg  film/roll-N/NN.jpg
//   truth/truth.json            lights, pairs and per frame light, moment, stock, exposure (docs/demo.md)
//   truth/frames/body-N/<file>.png  the frame as film would have seen it: same view, the light's stock, the
//   light's mean lab
//                               setting, no grain, no nudge; at most 800 px, sRGB
//   truth/scans/roll-N/NN.png   the scan without nudge and grain, at most 800 px, sRGB
// The same options and photographs give the same bytes of pixels for any number of workers. On cancel:
// kCancelled; what was written stays.
Result<SessionSummary> WriteSession(const std::filesystem::path& dir, const SessionOptions& options,
                                    Progress& progress, const Cancel& cancel);

// Folder of base photographs as fetched by scripts/fetch-assets: $SAMELIGHT_ASSETS/photos, or "assets/photos"
// or "build/assets/photos" in a folder above the program; empty when there is none.
std::filesystem::path FindPhotographs();

}  // namespace samelight::simulate
