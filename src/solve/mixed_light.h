// Light from two sources on one subject.
#pragma once

#include <string>

#include "look/evaluate.h"
#include "record/pair.h"

namespace samelight::solve {

// Whether what is left between scan and frame under `match` has one colour here and another there, which no
// one correction can follow: on the sides of a face that are told apart (face_sides.h), from face to face,
// and between the left and the right half of what the people wear; where there are no faces, between the
// halves of the picture, across and down. More than 4 CIELAB units in a*b* apart (common practice: two lights
// on one subject are seen well before). Returns where, in words for "... do not fit one correction"; empty:
// nowhere.
std::string MixedLightOn(const record::Correspondence& matched, const look::Resolved& match);

}  // namespace samelight::solve
