// From the working space to the values of one monitor, by its ICC profile (LittleCMS); straight, or as a
// print or another space would leave them.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"
#include "color/space.h"

namespace samelight::codec {

// A table of nodes^3 entries of three floats, blue running fastest: the monitor's RGB (0..1) for colours
// encoded in `from` (0..1 in even steps). Relative colorimetric with black point compensation, as ICC
// practice for screens. kDamaged: not a profile; kUnsupported: not one of an RGB monitor. Thread safe.
Result<std::vector<float>> MonitorTable(std::span<const std::uint8_t> icc, color::Space from, int nodes);

// What is left of colours in the space of another profile (a print, a gallery's screen), shown on a monitor:
// a soft proof.
struct ProofTable {
  std::vector<float> rgb;     // as MonitorTable gives it, by way of the proof's space
  std::vector<float> beyond;  // of each node: what the proof's space takes away, CIEDE2000 (in CIELAB, D50)
};
// `monitor` empty: sRGB. Relative colorimetric with black point compensation on both ways: the paper's own
// white is not shown. kDamaged, kUnsupported as MonitorTable, for either profile; `proof` may be of any
// device of grey, RGB or CMYK. Thread safe.
Result<ProofTable> MonitorProof(std::span<const std::uint8_t> monitor, std::span<const std::uint8_t> proof,
                                color::Space from, int nodes);
// Whether a profile can be proofed for: the errors of MonitorProof that tell of `proof`, without its work.
Status CheckProof(std::span<const std::uint8_t> proof);

}  // namespace samelight::codec
