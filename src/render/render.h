// From a decoded frame and its correction to delivered pixels.
#pragma once

#include <cstdint>
#include <vector>

#include "base/cancel.h"
#include "base/result.h"
#include "color/space.h"
#include "image/raster.h"
#include "image/samples.h"
#include "record/correction.h"
#include "record/grain.h"
#include "render/sharpen.h"

namespace samelight::render {

// Grain to be added: a model measured on scans (grain_meter.h) or made from two numbers (grain.h).
struct Grain {
  bool on = false;
  record::GrainModel model;
  double amount = 1;       // strength, times the model's; 0 is off
  double size = 1;         // size, times the model's, 0.25 to 4
  std::uint64_t seed = 0;  // by frame: a frame's grain is always the same, and no two frames share it
};

// A rectangle of a picture, pixels; empty (no width): all of it.
struct Part {
  int x = 0, y = 0, width = 0, height = 0;
};

// A black-and-white picture of the corrected colours. `tone`: encoded grey against the luma of the encoded
// colours (0.2126 R + 0.7152 G + 0.0722 B, ITU-R BT.709-6 item 3.2), at even steps from 0 to 1, linear
// between; two or more values. Empty: colour.
struct Monochrome {
  std::vector<float> tone;
};

struct RenderOptions {
  int long_side_px = 0;  // 0, or more than the picture has: as decoded; never enlarged
  color::Space space = color::Space::kSrgb;
  Monochrome monochrome;  // before acutance and grain
  Grain grain;
  // In output luma; the gain is from -0.9 to 2. `noise` is raised to what the picture itself shows.
  Sharpening acutance;
  bool dither = true;  // to 8 bit only, see quantise.h
  // Only these pixels, the same as in the whole picture. Not together with long_side_px.
  Part part;
  Cancel cancel;
};

// `linear`: as codec::ReadPicture gives it, floats or the file's own samples, which become linear a row of a
// strip at a time. Returns pixels encoded in options.space.
//
// Order: reduced in size (area average of scene-linear light, as a lens of the smaller picture's resolution
// would, before the curve of the film), correction, acutance, grain, dither, rounding. The colour is within
// the error of tolerance.h of look::Evaluate. NaN counts as 0; the result depends on nothing but the
// arguments: not on the thread, nor on frames before. One thread works on one picture; calls from several
// threads run side by side. Each thread keeps up to 10 MB between calls; a call needs the output and, when it
// reduces, the reduced picture in float on top of the input.
// Fails with kInvalidArgument (no pixels, a grain model that is not usable, values out of range) or
// kCancelled (asked once a row of a strip); `out` is then unspecified. `out` keeps its memory when it is
// large enough: fresh pages cost more than the writing.
Status Render(const image::Source& linear, const record::Correction& correction, const RenderOptions& options,
              image::RgbU8& out);
Status Render(const image::Source& linear, const record::Correction& correction, const RenderOptions& options,
              image::RgbU16& out);

// Without any correction and grain: display-referred `linear` (white at 1) in size, with sharpening, encoded
// in options.space and clipped to it. Within 2e-4 of the exact encoding before dither and rounding.
Status RenderAsItIs(const image::Source& linear, const RenderOptions& options, image::RgbU8& out);
Status RenderAsItIs(const image::Source& linear, const RenderOptions& options, image::RgbU16& out);

// The same with a correction into a new picture.
Result<image::RgbU8> Render8(const image::Source& linear, const record::Correction& correction,
                             const RenderOptions& options);
Result<image::RgbU16> Render16(const image::Source& linear, const record::Correction& correction,
                               const RenderOptions& options);

}  // namespace samelight::render
