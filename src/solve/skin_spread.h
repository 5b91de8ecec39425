// How even the skin of one light's frames comes out.
#pragma once

#include <optional>
#include <unordered_map>
#include <vector>

#include "record/correction.h"
#include "record/region.h"

namespace samelight::solve {

// The skin's median as delivered, CIELAB (D65); nothing where skin covers less than 0.2 % of the picture.
std::optional<Vec3> SkinOf(const record::Measured& measured, const record::Correction& correction);

struct SkinSpread {
  LightId light;
  int frames = 0;  // with skin on at least 0.2 % of the picture
  Vec3 sigma{};    // standard deviation of the skin's median L*, a*, b* (CIELAB, D65) as delivered
};
// One entry per light with two such frames or more, in the order of their first frames.
std::vector<SkinSpread> SkinSpreads(const std::vector<record::FrameSolution>& frames,
                                    const std::unordered_map<PhotoId, record::Measured>& measured);

}  // namespace samelight::solve
