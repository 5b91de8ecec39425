// A picture made comparable for labelling: its neutral taken out, shown on one tone scale, in CIELAB.
#pragma once

#include "image/raster.h"
#include "measure/tone_neutral.h"

namespace samelight::measure {

// Factor that brings the log-mean luminance of a scene-linear picture to mid-grey (0.18), held back where
// that would push more than one pixel in fifty over white; 2^-6 .. 2^8. A picture without light gives 1.
double SceneGain(const image::RgbF& rec2020_linear);

// Plain film-like curve: scene-linear with mid-grey at 0.18 to display-linear 0..1; 0.18 stays, slope
// there 1.23 (log-log), soft toe and shoulder. Values below 2^-16 and NaN give 0.
float SceneCurve(float scene_linear);

// CIELAB (D65) per pixel: L* 0..100, a*, b*, of the picture divided by `neutral` and, when scene-referred,
// put through SceneGain and SceneCurve.
image::RgbF LabView(const image::RgbF& rec2020_linear, const ToneNeutral& neutral, bool scene_referred);

}  // namespace samelight::measure
