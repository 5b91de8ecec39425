// Acutance: detail of the output's luma made stronger at the delivered size.
#pragma once

#include <array>
#include <cstddef>

namespace samelight::render {

// Most reach of the filter in pixels.
inline constexpr int kMostSharpenReach = 6;

struct Sharpening {
  double gain = 0;       // of the finest detail; 0 leaves it, less than 0 softens
  double radius_px = 1;  // standard deviation of the blur it works against, 1 to 2
  double rim = 0.1;      // how far beyond its neighbours a pixel may go, as a share of the step between them
  double noise = 0;      // detail much below it, in encoded luma, is not made stronger
};

// What the filter needs, made once for a picture.
struct SharpenPlan {
  int reach = 3;   // rows and columns within it must be at hand: three radii
  int around = 1;  // neighbours that limit a pixel
  std::array<float, kMostSharpenReach + 1> taps{};
  float gain = 0, rim = 0, noise_squared = 0;
};
SharpenPlan PlanSharpening(const Sharpening& sharpening);

// Response of the filter to a wave of `frequency` cycles a pixel along one axis, rims and noise apart: 1 +
// gain x (1 - the blur's).
double SharpenResponse(double gain, double radius_px, double frequency);

// Luma of `count` encoded pixels of four floats: 0.2126 R + 0.7152 G + 0.0722 B (ITU-R BT.709-6, item 3.2).
void LumaRow(const float* rgbx, std::size_t count, float* luma);

// Adds gain x w x d to the three channels of `count` pixels, in place. d = luma - blurred luma; w = 1 for
// softening, else d^2 / (d^2 + noise^2), so that noise is left alone. The new luma stays within the least and
// the greatest of its 3 x 3 neighbours (5 x 5 from a radius of 1.5 on) and `rim` of the step between them,
// so that edges get no halo. `rows`: 2 reach + 1 rows of luma, the middle one is the pixels' own; each begins
// `reach` columns before the first pixel and ends as many after the last. Vector targets agree within 1e-5.
// Thread safe.
void SharpenRow(const SharpenPlan& plan, const float* const* rows, std::size_t count, float* rgbx);

}  // namespace samelight::render
