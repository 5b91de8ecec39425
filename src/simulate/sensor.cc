#include "simulate/sensor.h"

namespace samelight::simulate {
namespace {

constexpr int kBands = color::kSpectrumCount;

std::vector<std::array<float, 3>> Bake(const Sensitivities& sensitivities,
                                       const std::vector<color::Spectrum>& surfaces,
                                       const color::Spectrum& light) {
  std::vector<std::array<float, 3>> nodes(surfaces.size());
  for (std::size_t n = 0; n < surfaces.size(); ++n)
    for (int c = 0; c < 3; ++c) {
      double sum = 0;
      for (int k = 0; k < kBands; ++k) sum += sensitivities[c][k] * surfaces[n][k] * light[k];
      nodes[n][c] = static_cast<float>(sum);
    }
  return nodes;
}

}  // namespace

color::Spectrum Under(const color::Spectrum& surface, const color::Spectrum& light) {
  color::Spectrum out;
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = surface[k] * light[k];
  return out;
}

Vec3 Respond(const Sensitivities& sensitivities, const color::Spectrum& spectrum) {
  Vec3 out{};
  for (int c = 0; c < 3; ++c)
    for (int k = 0; k < kBands; ++k) out[c] += sensitivities[c][k] * spectrum[k];
  return out;
}

SensorInLight::SensorInLight(const Sensitivities& sensitivities, const Surfaces& surfaces,
                             const Lighting& light)
    : key_first_(Bake(sensitivities, surfaces.first, light.key)),
      key_second_(Bake(sensitivities, surfaces.second, light.key)),
      fill_first_(Bake(sensitivities, surfaces.first, light.fill)),
      fill_second_(Bake(sensitivities, surfaces.second, light.fill)) {
  const Vec3 key = Respond(sensitivities, light.key), fill = Respond(sensitivities, light.fill);
  for (int c = 0; c < 3; ++c) neutral_[c] = light.key_share * key[c] + (1 - light.key_share) * fill[c];
}

image::RgbF SensorInLight::Expose(const SceneView& view) const {
  image::RgbF out(view.colour.width(), view.colour.height());
  const float* rgb = view.colour.data().data();
  const float* material = view.material.data().data();
  const float* key = view.key.data().data();
  float* to = out.data().data();
  for (std::size_t i = 0; i < out.pixels(); ++i, rgb += 3, to += 3) {
    const auto place = ChromaGrid::Find(rgb[0], rgb[1], rgb[2]);
    const float m = material[i], k = key[i];
    const float share[4] = {k * (1 - m), k * m, (1 - k) * (1 - m), (1 - k) * m};
    float sum[3] = {0, 0, 0};
    for (int n = 0; n < 3; ++n) {
      const int node = place.node[n];
      const float w = place.weight[n] * place.sum;
      const auto &a = key_first_[node], &b = key_second_[node], &c = fill_first_[node],
                 &d = fill_second_[node];
      for (int channel = 0; channel < 3; ++channel)
        sum[channel] += w * (share[0] * a[channel] + share[1] * b[channel] + share[2] * c[channel] +
                             share[3] * d[channel]);
    }
    for (int channel = 0; channel < 3; ++channel) to[channel] = sum[channel];
  }
  return out;
}

}  // namespace samelight::simulate
