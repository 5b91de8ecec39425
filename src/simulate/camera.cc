#include "simulate/camera.h"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

#include "color/cie_tables.h"
#include "color/lab.h"
#include "color/space.h"
#include "image/resize.h"
#include "simulate/random.h"
#include "simulate/tables.h"

namespace samelight::simulate {
namespace {

constexpr int kBands = color::kSpectrumCount;
// Stops above mid-grey at which a camera JPEG is white.
constexpr float kWhiteStops = 2.55f;

// What one pixel of a picture of this size holds and adds, in electrons.
struct Pixel {
  float well, read;
};
Pixel PixelOf(const Camera& camera, const image::RgbF& picture, double iso) {
  const double across =
      std::max(1.0, static_cast<double>(camera.long_side_px) / std::max(picture.width(), picture.height()));
  return {static_cast<float>(camera.full_well_iso100 * 100 / iso * across * across),
          static_cast<float>(camera.read_noise * across)};
}

std::vector<const color::Spectrum*> MeasuredSurfaces() {
  std::vector<const color::Spectrum*> surfaces;
  for (const auto& s : Table("objects")) surfaces.push_back(&s.values);
  for (const auto& s : Table("target24")) surfaces.push_back(&s.values);
  return surfaces;
}

// Each surface counts by its own lightness, not by its power.
double WeightOf(const Vec3& xyz) { return 1 / std::max(xyz[1], 0.03); }

// Camera from XYZ under `light`, least squares over measured surfaces; neutral is kept all but exactly.
Mat3 FitCameraFromXyz(const Camera& camera, const color::Spectrum& light) {
  constexpr double kWhiteWeight = 1000;
  const auto surfaces = MeasuredSurfaces();
  const int n = static_cast<int>(surfaces.size());
  const Vec3 white = Respond(camera.sees, light), xyz_white = color::XyzOfIlluminant(light);
  Eigen::MatrixXd xyz(n + 1, 3), native(n + 1, 3);
  for (int i = 0; i < n; ++i) {
    const Vec3 x = color::XyzOfReflectance(*surfaces[i], light),
               raw = Respond(camera.sees, Under(*surfaces[i], light));
    for (int c = 0; c < 3; ++c) {
      xyz(i, c) = x[c] * WeightOf(x);
      native(i, c) = raw[c] * WeightOf(x);
    }
  }
  for (int c = 0; c < 3; ++c) {
    xyz(n, c) = xyz_white[c] * kWhiteWeight;
    native(n, c) = white[c] * kWhiteWeight;
  }
  const Eigen::Matrix3d fit = xyz.colPivHouseholderQr().solve(native).transpose();
  Mat3 out;
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) out[r][c] = fit(r, c);
  return out;
}

// Glass that takes more of the violet and a filter that cuts the deep red earlier (invented; within what
// infrared filters of cameras do, from memory: half at 630 to 680 nm).
void PutOtherGlassBefore(Sensitivities& sees) {
  for (auto& row : sees)
    for (int k = 0; k < kBands; ++k) {
      const double nm = color::WavelengthNm(k);
      row[k] *= (1 - 0.45 * std::exp(-(nm - 380) / 40)) / (1 + std::exp((nm - 638) / 11));
    }
}

void FitMatrices(Camera& camera) {
  const color::Spectrum d65 = UnitY(color::kIlluminantD65);
  camera.camera_from_xyz = FitCameraFromXyz(camera, d65);
  camera.camera_from_xyz_a = FitCameraFromXyz(camera, UnitY(color::kIlluminantA));
  const auto surfaces = MeasuredSurfaces();
  const Vec3 white = Respond(camera.sees, d65);
  const Mat3 srgb_from_xyz = color::RgbFromXyz(color::Space::kSrgb);

  const int n = static_cast<int>(surfaces.size());
  Eigen::MatrixXd native(n, 3), balanced(n, 2), srgb(n, 3);
  for (int i = 0; i < n; ++i) {
    const Vec3 x = color::XyzOfReflectance(*surfaces[i], d65);
    const Vec3 raw = Respond(camera.sees, Under(*surfaces[i], d65));
    const Vec3 rgb = Mul(srgb_from_xyz, x);
    for (int c = 0; c < 3; ++c) {
      native(i, c) = raw[c] * WeightOf(x);
      srgb(i, c) = rgb[c] * WeightOf(x);
    }
  }

  // Rows sum to 1: the row is e_r + a (x_a - x_r) + b (x_b - x_r).
  for (int r = 0; r < 3; ++r) {
    const int a = (r + 1) % 3, b = (r + 2) % 3;
    Eigen::VectorXd rest(n);
    for (int i = 0; i < n; ++i) {
      const double own = native(i, r) / white[r];
      balanced(i, 0) = native(i, a) / white[a] - own;
      balanced(i, 1) = native(i, b) / white[b] - own;
      rest(i) = srgb(i, r) - own;
    }
    const Eigen::Vector2d x = balanced.colPivHouseholderQr().solve(rest);
    camera.srgb_from_balanced[r][a] = x[0];
    camera.srgb_from_balanced[r][b] = x[1];
    camera.srgb_from_balanced[r][r] = 1 - x[0] - x[1];
  }
}

}  // namespace

Camera MakeCamera(int index, std::uint64_t seed) {
  Random random(seed, {0xca3, static_cast<std::uint64_t>(index)});
  static const char* kLetters[] = {"a", "c", "d", "e", "b", "a", "c", "d", "e"};
  static const char* kModels[] = {"Heron 2", "Dipper Z", "Wagtail 40",  "Grebe II", "Bittern S",
                                  "Crake 1", "Ouzel 7",  "Sandpiper M", "Teal Q"};
  static const char* kLenses[] = {"Heron 35-70 mm f/2.8", "Dipper 50 mm f/1.8",  "Wagtail 28-75 mm f/2.8",
                                  "Grebe 85 mm f/1.4",    "Bittern 40 mm f/2",   "Crake 24-70 mm f/4",
                                  "Ouzel 35 mm f/1.8",    "Sandpiper 50 mm f/2", "Teal 70 mm f/2.8"};
  Camera camera;
  camera.make = "Tarnwater";
  camera.model = kModels[index];
  camera.lens = kLenses[index];
  camera.serial = std::to_string(100000 + random.Below(900000));
  const std::string letter = kLetters[index];
  for (int c = 0; c < 3; ++c)
    camera.sees[c] = Column(letter == "a"   ? "camera_a"
                            : letter == "b" ? "camera_b"
                                            : "camera_c_d_e",
                            "cam_" + letter + "_" + "rgb"[c]);
  if (index >= kOtherGlass) PutOtherGlassBefore(camera.sees);
  const double green = Respond(camera.sees, UnitY(color::DaylightSpectrum(5500)))[1];
  for (auto& row : camera.sees)
    for (double& v : row) v /= green;
  FitMatrices(camera);
  camera.full_well_iso100 = random.Uniform(45000, 80000);
  camera.read_noise = random.Uniform(2.5, 5);
  // Encoded value against stops from mid-grey: steep in the middle, clipped two and a half stops up.
  const double lift = random.Uniform(-0.01, 0.02), steep = random.Uniform(0.95, 1.08);
  std::vector<double> stops{-8, -6, -4.5, -3.2, -2, -1, 0, 0.8, 1.5, 2.1, kWhiteStops, 4};
  std::vector<double> value{0, 0.006, 0.028, 0.085, 0.185, 0.32, 0.485, 0.64, 0.775, 0.895, 1.0, 1.0};
  for (std::size_t i = 0; i < value.size(); ++i)
    value[i] = std::clamp(
        0.485 + (value[i] - 0.485) * (i > 2 && i < 9 ? steep : 1) + (i > 3 && i < 10 ? lift : 0), 0.0, 1.0);
  camera.tone = FastCurve(Curve(stops, value), -8, 4, 2048);
  camera.chroma = random.Uniform(1.08, 1.22);
  return camera;
}

image::RgbF Illuminate(const Camera& camera, const image::RgbF& response, double neutral_green,
                       const Shot& shot) {
  image::RgbF out(response.width(), response.height());
  const double gain = 0.12 / 0.18 / neutral_green * std::exp2(shot.exposure_ev);
  double mean[3] = {0, 0, 0};
  if (shot.flare > 0) {
    for (std::size_t i = 0; i < response.pixels(); ++i)
      for (int c = 0; c < 3; ++c) mean[c] += response.data()[3 * i + c];
    for (double& v : mean) v *= shot.flare / response.pixels();
  }
  const double cx = response.width() / 2.0, cy = response.height() / 2.0;
  for (int y = 0; y < response.height(); ++y)
    for (int x = 0; x < response.width(); ++x) {
      double local = gain;
      if (camera.vignetting_ev > 0) {
        const double r2 = ((x - cx) * (x - cx) + (y - cy) * (y - cy)) / (cx * cx + cy * cy);
        local *= std::exp2(-camera.vignetting_ev * r2 * r2);
      }
      const float* in = response.at(x, y);
      float* to = out.at(x, y);
      for (int c = 0; c < 3; ++c) to[c] = static_cast<float>((in[c] + mean[c]) * local);
    }
  return out;
}

image::Raster<std::uint16_t, 1> Mosaic(const Camera& camera, const image::RgbF& linear, const Shot& shot,
                                       const codec::DngSpec& spec) {
  image::Raster<std::uint16_t, 1> out(linear.width(), linear.height());
  const auto [well, read] = PixelOf(camera, linear, shot.iso);
  const float range = static_cast<float>(spec.white - spec.black);
  for (int y = 0; y < out.height(); ++y) {
    Random random(shot.noise_seed, {static_cast<std::uint64_t>(y)});
    for (int x = 0; x < out.width(); ++x) {
      const float electrons = std::max(0.0f, linear.at(x, y)[spec.pattern[(y % 2) * 2 + x % 2]]) * well;
      const float noisy = electrons + std::sqrt(electrons + read * read) * random.QuickNormal();
      *out.at(x, y) = static_cast<std::uint16_t>(
          std::clamp(spec.black + noisy / well * range + 0.5f, 0.0f, static_cast<float>(spec.white)));
    }
  }
  return out;
}

image::RgbU8 Develop(const Camera& camera, const image::RgbF& linear, const Shot& shot) {
  image::RgbF picture(linear.width(), linear.height());
  const auto [well, read] = PixelOf(camera, linear, shot.iso);
  const float balance[3] = {static_cast<float>(1 / shot.as_shot_neutral[0]),
                            static_cast<float>(1 / shot.as_shot_neutral[1]),
                            static_cast<float>(1 / shot.as_shot_neutral[2])};
  // Where one channel is full the picture is white: the others are cut at the same level, and the curve
  // reaches white there (common practice; else full red of a warm light would print cyan).
  const float full = std::min({balance[0], balance[1], balance[2]}) * (0.18f / 0.12f);
  const float full_stops = std::clamp(std::log2(full / 0.18f), 1.5f, kWhiteStops);
  const auto stretched = [&](float stops) {
    return stops <= 1 ? stops : 1 + (stops - 1) * (kWhiteStops - 1) / (full_stops - 1);
  };
  for (int y = 0; y < picture.height(); ++y) {
    Random random(shot.noise_seed, {static_cast<std::uint64_t>(y), 1});
    for (int x = 0; x < picture.width(); ++x) {
      const float* in = linear.at(x, y);
      for (int c = 0; c < 3; ++c) {
        // Half of the noise: the camera smooths before it shows.
        const float electrons = std::max(0.0f, in[c]) * well;
        const float noisy =
            (electrons + 0.5f * std::sqrt(electrons + read * read) * random.QuickNormal()) / well;
        picture.at(x, y)[c] = std::min(std::max(noisy, 0.0f) * balance[c] * (0.18f / 0.12f), full);
      }
    }
  }
  const Mat3& m = camera.srgb_from_balanced;
  const float chroma = static_cast<float>(camera.chroma);
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    float* p = picture.data().data() + 3 * i;
    float v[3];
    for (int r = 0; r < 3; ++r)
      v[r] = std::max(0.0f, static_cast<float>(m[r][0] * p[0] + m[r][1] * p[1] + m[r][2] * p[2]));
    float encoded[3];
    for (int c = 0; c < 3; ++c) encoded[c] = camera.tone(stretched(std::log2(std::max(v[c], 1e-5f) / 0.18f)));
    const float grey = 0.3f * encoded[0] + 0.6f * encoded[1] + 0.1f * encoded[2];
    for (int c = 0; c < 3; ++c) p[c] = grey + chroma * (encoded[c] - grey);
  }
  const image::RgbF soft = image::Blur(picture, 1.0);
  image::RgbU8 out(picture.width(), picture.height());
  for (std::size_t i = 0; i < out.data().size(); ++i) {
    const float sharp = picture.data()[i] + 0.5f * (picture.data()[i] - soft.data()[i]);
    out.data()[i] = static_cast<std::uint8_t>(std::clamp(255 * sharp + 0.5f, 0.0f, 255.0f));
  }
  return out;
}

Vec3 GuessNeutral(const Camera& camera, const image::RgbF& response, const Vec3& true_neutral,
                  std::uint64_t seed) {
  Random random(seed, {0x3b});
  const Vec3 daylight = Respond(camera.sees, UnitY(color::kIlluminantD65));
  Vec3 mean{};
  for (std::size_t i = 0; i < response.pixels(); i += 17)
    for (int c = 0; c < 3; ++c) mean[c] += std::min(response.data()[3 * i + c], 2.0f);
  Vec3 guess;
  const double off[3] = {random.Normal(0, 0.05), 0, random.Normal(0, 0.06)};
  const auto ratio = [](const Vec3& v, int c) { return std::log(v[c] / v[1]); };
  for (int c = 0; c < 3; ++c) {
    double log = ratio(true_neutral, c);
    log += 0.18 * std::clamp(ratio(mean, c) - ratio(true_neutral, c), -0.8, 0.8);
    // Warm light is left a little warm, shade a little blue.
    log = ratio(daylight, c) + 0.9 * (log - ratio(daylight, c)) + off[c];
    guess[c] = std::exp(log);
  }
  return guess;
}

}  // namespace samelight::simulate
