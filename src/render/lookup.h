// Rows of pixels through a baked correction.
#pragma once

#include <cstddef>

#include "render/bake.h"

namespace samelight::render {

// `rgb`: `count` pixels of linear BT.2020 as decoded, interleaved. `rgbx`: `count` pixels of four floats,
// encoded output clipped to 0..1, the fourth is 0. Any count; the buffers need no alignment and must not
// overlap. NaN counts as 0, values outside +-1e4 are clamped; the result is finite for every input. Vector
// code chosen at run time (SSE4 to AVX-512, NEON ...). All versions agree within 2e-5. Thread safe.
void Lookup(const BakedCorrection& baked, const float* rgb, std::size_t count, float* rgbx);

// One table alone, without matrix and shaper: inputs are places in it, 0..1 from its first node to its last,
// clamped; NaN counts as 0. The same kernel; to be compared with other libraries' tables.
void LookupTable(const Baked& table, const float* rgb, std::size_t count, float* rgbx);

// One table in place of the two of a blended correction, mixed at its nodes: half the time of a look-up, for
// drafts. Between nodes the mixture is interpolated, which errs where skin ends. Nothing to do for one that
// is not blended.
void Merge(BakedCorrection& baked);

// Lookup in plain code: the fallback, and the reference for the vector versions.
void LookupPlain(const BakedCorrection& baked, const float* rgb, std::size_t count, float* rgbx);

}  // namespace samelight::render
