#include "record/handle.h"

#include <algorithm>
#include <cmath>

namespace samelight::record {
namespace {

// Places of the bumps of skin, foliage and sky (look/model.h, kBumpHueDeg).
constexpr int kSkinBump = 1, kFoliageBump = 3, kSkyBump = 4;

// One place for reading and writing: the field, and how many of a person's units make one of its own.
struct Place {
  double* field;
  double scale;
};
Place PlaceOf(Handles& h, Handle handle) {
  switch (handle) {
    case Handle::kExposure:
      return {&h.exposure_ev, 1};
    case Handle::kWarmth:
      return {&h.warmth_mired, 1};
    case Handle::kGreenMagenta:
      return {&h.green_magenta, 1};
    case Handle::kGamma:
      return {&h.gamma, 1};
    case Handle::kToe:
      return {&h.toe, 1};
    case Handle::kShoulder:
      return {&h.shoulder, 1};
    case Handle::kBlackDensity:
      return {&h.black_density, 1};
    case Handle::kChroma:
      return {&h.chroma, 100};
    case Handle::kSkinHue:
      return {&h.hues[kSkinBump].hue_deg, 1};
    case Handle::kSkinChroma:
      return {&h.hues[kSkinBump].chroma, 100};
    case Handle::kSkinLightness:
      return {&h.hues[kSkinBump].lightness, 1};
    case Handle::kFoliageHue:
      return {&h.hues[kFoliageBump].hue_deg, 1};
    case Handle::kFoliageChroma:
      return {&h.hues[kFoliageBump].chroma, 100};
    case Handle::kFoliageLightness:
      return {&h.hues[kFoliageBump].lightness, 1};
    case Handle::kSkyHue:
      return {&h.hues[kSkyBump].hue_deg, 1};
    case Handle::kSkyChroma:
      return {&h.hues[kSkyBump].chroma, 100};
    case Handle::kSkyLightness:
      return {&h.hues[kSkyBump].lightness, 1};
    case Handle::kGrainAmount:
      return {&h.grain_amount, 100};
    case Handle::kGrainSize:
      return {&h.grain_size, 100};
    case Handle::kAcutance:
      return {&h.acutance, 1};
  }
  return {&h.exposure_ev, 1};
}

}  // namespace

const std::vector<HandleFacts>& AllHandles() {
  // Steps are about a just visible change; ranges are what a careful editor stays within (common practice).
  static const std::vector<HandleFacts> all = {
      {Handle::kExposure, "exposure", "EV", 0.05, 2, -4, 4,
       "lighter or darker, as a stop of the camera would"},
      {Handle::kWarmth, "warmth", "mired", 1, 0, -150, 150,
       "along the colours of daylight; positive is warmer"},
      {Handle::kGreenMagenta, "green\u2013magenta", "", 0.5, 1, -30, 30,
       "across the colours of daylight, Duv times 1000; positive is greener"},
      {Handle::kGamma, "gamma", "", 0.01, 2, -1, 1, "slope at mid-grey: contrast of the middle tones"},
      {Handle::kToe, "toe", "", 0.01, 2, -0.5, 1, "how gently the shadows roll into black"},
      {Handle::kShoulder, "shoulder", "", 0.01, 2, -0.5, 1, "how gently the highlights roll into white"},
      {Handle::kBlackDensity, "black density", "D", 0.01, 2, -1, 1,
       "how deep the blacks go; negative lifts them"},
      {Handle::kChroma, "chroma", "%", 1, 0, -100, 100, "strength of all colours"},
      {Handle::kSkinHue, "skin hue", "\u00b0", 0.5, 1, -30, 30, "turns skin; positive toward yellow"},
      {Handle::kSkinChroma, "skin chroma", "%", 1, 0, -60, 60, "strength of the colour of skin"},
      {Handle::kSkinLightness, "skin lightness", "L*", 0.2, 1, -15, 15, "lightness of skin alone"},
      {Handle::kFoliageHue, "foliage hue", "\u00b0", 0.5, 1, -40, 40, "turns foliage; positive toward blue"},
      {Handle::kFoliageChroma, "foliage chroma", "%", 1, 0, -60, 60, "strength of the colour of foliage"},
      {Handle::kFoliageLightness, "foliage lightness", "L*", 0.2, 1, -15, 15, "lightness of foliage alone"},
      {Handle::kSkyHue, "sky hue", "\u00b0", 0.5, 1, -40, 40, "turns sky; positive toward violet"},
      {Handle::kSkyChroma, "sky chroma", "%", 1, 0, -60, 60, "strength of the colour of sky"},
      {Handle::kSkyLightness, "sky lightness", "L*", 0.2, 1, -15, 15, "lightness of sky alone"},
      {Handle::kGrainAmount, "grain", "%", 5, 0, -100, 300,
       "strength of the grain, against that of the film"},
      {Handle::kGrainSize, "grain size", "%", 5, 0, -75, 300, "size of the grain, against that of the film"},
      {Handle::kAcutance, "acutance", "", 0.05, 2, 0, 2, "crispness of the finest detail"},
  };
  return all;
}

const HandleFacts& FactsOf(Handle handle) { return AllHandles()[static_cast<std::size_t>(handle)]; }

double ValueOf(const Handles& handles, Handle handle) {
  const Place place = PlaceOf(const_cast<Handles&>(handles), handle);  // only read
  return *place.field * place.scale;
}

void SetValue(Handles& handles, Handle handle, double value) {
  if (std::isnan(value)) return;
  const HandleFacts& facts = FactsOf(handle);
  const Place place = PlaceOf(handles, handle);
  *place.field = std::clamp(value, facts.least, facts.most) / place.scale;
}

void SetSum(Handles& sum, const Handles& a, const Handles& b, Handle handle) {
  const double total = *PlaceOf(const_cast<Handles&>(a), handle).field +
                       *PlaceOf(const_cast<Handles&>(b), handle).field;  // only read
  *PlaceOf(sum, handle).field = total;
}

}  // namespace samelight::record
