// From colours to what a screen shows.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/result.h"
#include "color/space.h"
#include "image/raster.h"
#include "preview/sample.h"
#include "preview/shown.h"

namespace samelight::preview {

// How encoded colours reach the screen. Without a profile the screen is taken to show sRGB.
struct Monitor {
  color::Space space = color::Space::kSrgb;  // pictures are encoded in it first ...
  int nodes = 0;                             // ... and then go through this table, if there is one
  std::vector<float> table;                  // as codec::MonitorTable gives it
  std::vector<float> beyond;                 // of a soft proof: as codec::ProofTable gives it
};
// An empty profile gives sRGB. Errors of codec::MonitorTable.
Result<Monitor> MonitorOf(std::span<const std::uint8_t> icc);
// The same monitor, showing what is left of colours in the space of another profile (codec::MonitorProof, and
// its errors). Marks then say what that space cannot hold. Takes a fraction of a second.
Result<Monitor> ProofOn(std::span<const std::uint8_t> monitor_icc, std::span<const std::uint8_t> proof_icc);

// Whether a colour encoded in monitor.space comes out of the proof's space visibly otherwise: by more than 2
// CIEDE2000 (common practice for what is seen side by side). False without a proof.
bool BeyondProof(const Monitor& monitor, const float rgb[3]);

// One encoded colour through the monitor's table; clamped to 0..1. monitor.nodes must be at least 2.
void ThroughMonitor(const Monitor& monitor, float rgb[3]);

// `count` pixels of four floats encoded in monitor.space to 0xffRRGGBB. `rgbx` is changed. x, y: place of the
// first pixel, for the dither that keeps smooth skies smooth.
void ToScreen(const Monitor& monitor, float* rgbx, std::size_t count, int x, int y, std::uint32_t* argb);

// Display-referred pixels as they are (linear BT.2020): scans, camera JPEG. `proof`: colours outside sRGB are
// first brought to its surface, as a delivered file would have them. Uses all workers.
void ShowDisplay(const Sampled& sampled, const Monitor& monitor, bool proof, bool marks, Shown& out);

// Encoded sRGB as it is stored: thumbnails, delivered pixels.
image::RgbF LinearOf(const image::RgbU8& srgb);  // linear BT.2020
void ShowSrgb(const image::RgbU8& srgb, const Monitor& monitor, Shown& out);

// Marks of a pixel: `srgb_linear` before clipping to the delivery space (sRGB), `drawn_in` true where the
// look's own compression has already kept it inside.
std::uint8_t MarksOf(const float srgb_linear[3], bool drawn_in);

// With a proof, what lies out of gamut is told by its space alone. `coded`: encoded in monitor.space.
void MarkProof(const Monitor& monitor, const float coded[3], std::uint8_t& marks);

// Makes `out` as large as `sampled`, with or without marks.
void Prepare(const Sampled& sampled, bool marks, Shown& out);
// Clears what lies outside the picture.
void ClearOutside(const Sampled& sampled, Shown& out);

}  // namespace samelight::preview
