// The colour matrix of a camera for the light of a photograph.
#pragma once

#include <optional>
#include <vector>

#include "base/matrix.h"
#include "color/space.h"
#include "record/photo.h"

namespace samelight::codec {

// "Camera from XYZ" as measured under one light: AnalogBalance * CameraCalibration * ColorMatrix (DNG 1.4,
// chapter 6).
struct CameraCalibration {
  int light_source = 21;  // EXIF LightSource; 21 is D65
  Mat3 camera_from_xyz{};
};

// Fills `colour`: multipliers and matrix of D65 by the calibration nearest to it, `as_shot` (empty: those of
// D65), and the matrix from white-balanced camera values to linear BT.2020, D65. Of calibrations under two
// lights the matrix is mixed by the temperature of the light, in mired, and the end beyond them holds
// (DNG 1.4, chapter 6); with one of a known temperature, or none, that is taken for every light. Rows of the
// matrix sum to 1. False, and nothing is changed, when no calibration is usable. Thread safe.
bool ColourFrom(const std::vector<CameraCalibration>& calibrations, const std::optional<Vec3>& as_shot,
                record::RawColour& colour);

}  // namespace samelight::codec
