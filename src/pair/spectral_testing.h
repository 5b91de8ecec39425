// For tests: matched places of invented scans and frames from spectra, without pictures. Measured surfaces
// and cameras (simulate/data), invented lights, films and labs (simulate).
#pragma once

#include <cmath>
#include <cstdint>
#include <vector>

#include "color/space.h"
#include "record/pair.h"
#include "record/photo.h"
#include "simulate/camera.h"
#include "simulate/film.h"
#include "simulate/lab.h"
#include "simulate/lighting.h"
#include "simulate/random.h"
#include "simulate/tables.h"

namespace samelight::pair::testing {

// What lies before the lens: surfaces, and for each place its surface, shading and share of the key light.
struct SpectralPlace {
  std::size_t surface = 0;
  double shading = 1, key = 0.5;
};
struct SpectralScene {
  std::vector<color::Spectrum> surfaces;
  std::vector<SpectralPlace> places;
};

inline SpectralScene MakeScene(std::uint64_t seed, const simulate::Lighting& light) {
  simulate::Random random(seed, {0x5ce});
  SpectralScene out;
  const auto add = [&](const char* table) {
    const auto& all = simulate::Table(table);
    out.surfaces.push_back(all[static_cast<std::size_t>(random.Below(static_cast<int>(all.size())))].values);
  };
  for (int k = 0; k < 2; ++k) add("skin");
  for (int k = 3 + random.Below(5); k > 0; --k) add("objects");
  for (int k = 2 + random.Below(3); k > 0; --k) add("usgs");
  std::vector<double> share;
  double all = 0;
  for (std::size_t k = 0; k < out.surfaces.size(); ++k) all += share.emplace_back(random.Uniform(0.02, 1));
  for (int i = 0; i < 160; ++i) {
    double at = random.Uniform() * all;
    std::size_t k = 0;
    while (k + 1 < share.size() && (at -= share[k]) > 0) ++k;
    const double key =
        light.key_share + (random.Chance(0.5) ? 1 : -1) * light.contrast * std::min(light.key_share, 0.4);
    out.places.push_back({k, std::exp2(random.Normal(0, 0.8)), std::min(1.0, std::max(0.0, key))});
  }
  return out;
}

inline color::Spectrum Falls(const SpectralScene& scene, const SpectralPlace& place,
                             const simulate::Lighting& light) {
  color::Spectrum out;
  for (std::size_t k = 0; k < out.size(); ++k)
    out[k] = place.shading * scene.surfaces[place.surface][k] *
             (place.key * light.key[k] + (1 - place.key) * light.fill[k]);
  return out;
}

// A camera's raw file of the scene, linear BT.2020 after its own white balance, which errs by chance;
// `colour`, if not null, becomes what the file says of it.
inline image::RgbF RawOf(const simulate::Camera& camera, const SpectralScene& scene,
                         const simulate::Lighting& light, std::uint64_t seed,
                         record::RawColour* colour = nullptr) {
  const Vec3 key = simulate::Respond(camera.sees, light.key),
             fill = simulate::Respond(camera.sees, light.fill);
  Vec3 neutral;
  for (int c = 0; c < 3; ++c) neutral[c] = light.key_share * key[c] + (1 - light.key_share) * fill[c];
  image::RgbF out(static_cast<int>(scene.places.size()), 1);
  for (std::size_t i = 0; i < scene.places.size(); ++i) {
    const Vec3 seen = simulate::Respond(camera.sees, Falls(scene, scene.places[i], light));
    for (int c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(seen[c] / neutral[1]);
  }
  const Vec3 white = GuessNeutral(camera, out, neutral, seed);
  Mat3 camera_from_rgb = Mul(camera.camera_from_xyz, color::XyzFromRgb(color::Space::kRec2020));
  Vec3 daylight;
  for (int c = 0; c < 3; ++c) {
    daylight[c] = camera_from_rgb[c][0] + camera_from_rgb[c][1] + camera_from_rgb[c][2];
    for (double& v : camera_from_rgb[c]) v /= daylight[c];
  }
  const Mat3 rgb_from_camera = samelight::Inverse(camera_from_rgb);
  if (colour != nullptr)
    *colour = {{1 / white[0], 1, 1 / white[2]},
               {daylight[1] / daylight[0], 1, daylight[1] / daylight[2]},
               rgb_from_camera,
               rgb_from_camera};
  for (std::size_t i = 0; i < scene.places.size(); ++i) {
    float* p = out.data().data() + 3 * i;
    const Vec3 rgb = Mul(rgb_from_camera, Vec3{p[0] / white[0], p[1], p[2] / white[2]});
    for (int c = 0; c < 3; ++c) p[c] = static_cast<float>(rgb[c]);
  }
  return out;
}

// A scan of the scene, linear BT.2020: the lab's automatic setting and the operator's hand included.
inline image::RgbF ScanOf(const simulate::Stock& stock, const simulate::Lab& lab, const SpectralScene& scene,
                          const simulate::Lighting& light, std::uint64_t seed) {
  simulate::Random random(seed, {0x5ca});
  const Vec3 reference = DaylightReference(stock);
  const double over_ev = (light.dim ? 0.4 : 1.0) + random.Normal(0, 0.25);
  const auto dyes = [&](const Vec3& response) {
    Vec3 log;
    for (int c = 0; c < 3; ++c)
      log[c] = std::log10(std::max(response[c] / reference[c], 1e-6) / 0.18) + 0.30103 * over_ev;
    return DyesOf(stock, log, 0);
  };
  image::RgbF density(static_cast<int>(scene.places.size()), 1);
  for (std::size_t i = 0; i < scene.places.size(); ++i) {
    const Vec3 d = dyes(simulate::Respond(stock.layers, Falls(scene, scene.places[i], light)));
    for (int c = 0; c < 3; ++c) density.data()[3 * i + c] = static_cast<float>(d[c]);
  }
  density = lab.Scan(density);
  Vec3 card = simulate::Respond(stock.layers, light.key);
  const Vec3 fill = simulate::Respond(stock.layers, light.fill);
  for (int c = 0; c < 3; ++c) card[c] = 0.18 * (light.key_share * card[c] + (1 - light.key_share) * fill[c]);
  simulate::LabSetting setting = lab.Automatic(density, lab.ScanExactly(dyes(card)));
  const double hand = random.Normal(0, 0.012);
  for (double& v : setting.shift) v += hand + random.Normal(0, 0.008);
  setting.contrast += random.Normal(0, 0.012);
  image::RgbF print = lab.Print(density, setting);
  const Mat3 to_wide = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  for (std::size_t i = 0; i < print.pixels(); ++i) {
    float* p = print.data().data() + 3 * i;
    const Vec3 rgb = Mul(to_wide, Vec3{p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c) p[c] = static_cast<float>(rgb[c]);
  }
  return print;
}

// The matched places of both, strayed as matched places are (a third of a tenth of a stop and more, common
// practice).
inline record::Correspondence Matched(const image::RgbF& scan, const image::RgbF& frame, std::uint64_t seed) {
  simulate::Random random(seed, {0xce11});
  record::Correspondence out;
  for (std::size_t i = 0; i < scan.pixels(); ++i) {
    record::Cell cell;
    for (int c = 0; c < 3; ++c) {
      cell.a_rgb[c] = scan.data()[3 * i + c] * static_cast<float>(std::exp2(random.Normal(0, 0.06)));
      cell.b_rgb[c] = frame.data()[3 * i + c] * static_cast<float>(std::exp2(random.Normal(0, 0.04)));
    }
    out.cells.push_back(cell);
  }
  return out;
}

}  // namespace samelight::pair::testing
