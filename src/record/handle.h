// The handles one by one: what each is called, its unit and steps, where it lies in a record.
#pragma once

#include <string>
#include <vector>

#include "record/correction.h"

namespace samelight::record {

enum class Handle {
  kExposure,
  kWarmth,
  kGreenMagenta,
  kGamma,
  kToe,
  kShoulder,
  kBlackDensity,
  kChroma,
  kSkinHue,
  kSkinChroma,
  kSkinLightness,
  kFoliageHue,
  kFoliageChroma,
  kFoliageLightness,
  kSkyHue,
  kSkyChroma,
  kSkyLightness,
  kGrainAmount,
  kGrainSize,
  kAcutance,
};

// Values here are as a person reads them: chroma and grain in percent, all else in the record's unit.
struct HandleFacts {
  Handle handle;
  const char* name;            // "green–magenta"
  const char* unit;            // "EV", "mired", "%", "°"; empty for a plain number
  double step = 0;             // of one key press or wheel notch; ten times that with the coarse key
  int digits = 0;              // after the point
  double least = 0, most = 0;  // of a touch
  const char* help;            // one sentence
};

// Every handle in the order in which a person reads them.
const std::vector<HandleFacts>& AllHandles();
const HandleFacts& FactsOf(Handle handle);

// The value of one handle, as a person reads it; and setting it (clamped to the range; NaN changes nothing).
double ValueOf(const Handles& handles, Handle handle);
void SetValue(Handles& handles, Handle handle, double value);
// One handle of `sum` becomes that of `a` plus that of `b`, without a limit.
void SetSum(Handles& sum, const Handles& a, const Handles& b, Handle handle);

}  // namespace samelight::record
