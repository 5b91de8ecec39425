// What three sensitivities make of a scene: shared by cameras and film layers.
#pragma once

#include <array>
#include <vector>

#include "base/matrix.h"
#include "image/raster.h"
#include "simulate/lighting.h"
#include "simulate/uplift.h"

namespace samelight::simulate {

using Sensitivities = std::array<color::Spectrum, 3>;

// A piece of the scene as a lens sees it.
struct SceneView {
  image::RgbF colour;      // linear sRGB of the base photograph, scene-referred, >= 0, mid-grey 0.18
  image::PlaneF material;  // 0: first materials of the palette, 1: second
  image::PlaneF key;       // share of the key light, 0..1
};

// Responses to a perfect diffuser under each of the two lights, for one palette.
class SensorInLight {
 public:
  SensorInLight(const Sensitivities& sensitivities, const Surfaces& surfaces, const Lighting& light);
  // Linear response of the three channels per pixel, same size as the view; a grey card of 0.18 under the mix
  // of both lights at key_share gives 0.18 times Neutral().
  image::RgbF Expose(const SceneView& view) const;
  // Response to the perfect diffuser under the mix of both lights at key_share.
  Vec3 Neutral() const { return neutral_; }

 private:
  using Nodes = std::vector<std::array<float, 3>>;
  Nodes key_first_, key_second_, fill_first_, fill_second_;
  Vec3 neutral_{};
};

// What a surface of this reflectance sends back of a light.
color::Spectrum Under(const color::Spectrum& surface, const color::Spectrum& light);
// Response of each channel to `spectrum` (reflectance times light), the sum over the grid.
Vec3 Respond(const Sensitivities& sensitivities, const color::Spectrum& spectrum);

}  // namespace samelight::simulate
