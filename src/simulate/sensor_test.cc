#include "simulate/sensor.h"

#include <gtest/gtest.h>

#include "simulate/tables.h"

namespace samelight::simulate {
namespace {

Sensitivities CameraD() {
  return {Column("camera_c_d_e", "cam_d_r"), Column("camera_c_d_e", "cam_d_g"),
          Column("camera_c_d_e", "cam_d_b")};
}

SceneView OnePixel(float r, float g, float b, float material, float key) {
  SceneView view{image::RgbF(1, 1), image::PlaneF(1, 1), image::PlaneF(1, 1)};
  view.colour.data() = {r, g, b};
  *view.material.at(0, 0) = material;
  *view.key.at(0, 0) = key;
  return view;
}

TEST(Sensor, EqualsTheSpectralSum) {
  const auto light = MakeLighting(LightKind::kUnderTrees, 3, false);
  const Surfaces surfaces = SurfacesOf(PaletteFor("life"));
  const SensorInLight sensor(CameraD(), surfaces, light);
  const float r = 0.2f, g = 0.31f, b = 0.08f, material = 0.3f, key = 0.8f;
  const image::RgbF seen = sensor.Expose(OnePixel(r, g, b, material, key));
  const auto place = ChromaGrid::Find(r, g, b);
  color::Spectrum radiance{};
  for (int n = 0; n < 3; ++n)
    for (int k = 0; k < color::kSpectrumCount; ++k) {
      const double surface =
          (1 - material) * surfaces.first[place.node[n]][k] + material * surfaces.second[place.node[n]][k];
      radiance[k] += place.sum * place.weight[n] * surface * (key * light.key[k] + (1 - key) * light.fill[k]);
    }
  const Vec3 expected = Respond(CameraD(), radiance);
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(seen.data()[c], expected[c], 1e-5 * expected[c]);
}

TEST(Sensor, GreyCardIsNearlyTheNeutral) {
  const auto light = MakeLighting(LightKind::kNoonSun, 1, false);
  Palette smooth;
  smooth.first.fill(Material::kSmooth);
  smooth.second.fill(Material::kSmooth);
  const SensorInLight sensor(CameraD(), SurfacesOf(smooth), light);
  const image::RgbF seen =
      sensor.Expose(OnePixel(0.18f, 0.18f, 0.18f, 0, static_cast<float>(light.key_share)));
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(seen.data()[c] / (0.18 * sensor.Neutral()[c]), 1, 0.01);
}

}  // namespace
}  // namespace samelight::simulate
