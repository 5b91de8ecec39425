// What the regions of one picture say about its light beyond its white.
#pragma once

#include <optional>

#include "record/region.h"

namespace samelight::pair {

// Light on the subject's skin against the brighter half of everything else, EV; below 0 where the light comes
// from behind. Absent without skin or without anything else.
std::optional<double> BacklightOf(const record::Measured& measured);

// How much warmer the dark parts of the picture are than the bright ones, log2 of red over blue: mixed light
// and flash show in it, a camera's white does not. Absent without regions.
std::optional<double> ShadowWarmthOf(const record::Measured& measured);

// True when the light seems to hold few wavelengths: the white that the camera found lies farther from
// daylight and glowing bodies than any lamp for seeing by (`raw` only: the file tells its white), or every
// region, white cloth and neutrals too, is strongly coloured, and all toward one side. A place that is lit by
// daylight or a lamp of many wavelengths shows something near neutral or colours of several kinds. White
// mixed of narrow bands is not told from a lamp. False for black-and-white pictures.
bool LooksNarrowBand(const record::Measured& measured, bool raw);

}  // namespace samelight::pair
