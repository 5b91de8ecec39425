// Base photographs as scenes, and views of them.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "image/raster.h"
#include "simulate/lighting.h"
#include "simulate/sensor.h"
#include "simulate/uplift.h"

namespace samelight::simulate {

// A scene to look at. Levels: the picture in linear sRGB, scene-referred (tone curve of the photograph
// roughly undone, clipped highlights lifted), its logarithmic mean luminance brought toward 0.13; each level
// 1/sqrt(2) of the one before.
struct Photograph {
  std::string stem;
  std::vector<image::RgbF> levels;
  image::PlaneF brightness;  // small; log2 of blurred luminance against the picture's median
  image::PlaneF material;    // small; which materials of the palette, 0..1
  Palette palette;
  bool people = false;  // somebody's skin is in it
};

// How much a linear colour looks like skin, 0..1: chromaticity of a reddish to yellowish brown.
float SkinLike(const float* linear_srgb);

struct SkinTone {
  bool change = false;
  double lightness = 1;  // factor on the linear value of skin-like colours
};

// `long_side_px`: size of level 0 at most.
Result<Photograph> LoadPhotograph(const std::filesystem::path& path, int long_side_px, const SkinTone& skin);
// A painted scene of flat shapes, gradients, woven and leafy noise, and ovals for faces. No file needed.
Photograph PaintScene(std::uint64_t seed, int long_side_px);

// Somebody moved: the picture is pushed by (dx, dy) around (x, y). Fractions of the photograph's width.
struct Push {
  double x, y, radius, dx, dy;
};

// Where the lens points.
struct View {
  double x = 0.5, y = 0.5;  // centre, fractions of the photograph
  double width = 0.8;       // width of the view as a fraction of the photograph's width
  double angle_deg = 0;
  double lean_x = 0, lean_y = 0;  // perspective: relative change of scale from the centre to an edge
  bool mirrored = false;
  std::vector<Push> pushes;
};

// Shifts and narrows `view` until its corners are inside the photograph. `aspect` is width over height of the
// picture.
View Inside(View view, const Photograph& photograph, double aspect);
// The scene as seen; bicubic, from the level that fits the size.
SceneView Look(const Photograph& photograph, const View& view, const Lighting& light, int width_px,
               int height_px);

}  // namespace samelight::simulate
