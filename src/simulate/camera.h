// Digital cameras: raw counts, and the JPEG that the camera itself would make.
#pragma once

#include <cstdint>
#include <string>

#include "codec/dng.h"
#include "image/raster.h"
#include "record/photo.h"
#include "simulate/curve.h"
#include "simulate/sensor.h"

namespace samelight::simulate {

// An invented body around measured sensitivities.
struct Camera {
  std::string make, model, serial, lens;
  Sensitivities sees;        // native channels; green of a perfect diffuser in daylight of 5500 K is 1
  Mat3 camera_from_xyz{};    // least squares over measured surfaces under D65
  Mat3 camera_from_xyz_a{};  // under standard light A
  // Of one of the sensor's own pixels. A picture of fewer pixels stands for the whole sensor seen smaller:
  // each of its pixels sums the electrons and the read-out noise of all that fall into it.
  int long_side_px = 6000;
  double full_well_iso100 = 60000;  // electrons at saturation
  double read_noise = 4;            // electrons
  double vignetting_ev = 0;         // darker by this in the corners
  // The body's own JPEG.
  Mat3 srgb_from_balanced{};  // rows sum to 1
  FastCurve tone;             // log2 of linear against mid-grey to encoded value 0..1
  double chroma = 1.15;
};

// Four bodies, one for each measured set of sensitivities; index 0..3. Of the unseen world: index 4 has a
// fifth measured set, of layers one below the other, whose colours overlap most; 5..8 are the sensors of 0..3
// behind other glass and another infrared filter.
constexpr int kCameraCount = 4, kStackedCamera = 4, kOtherGlass = 5;
Camera MakeCamera(int index, std::uint64_t seed);

struct Shot {
  double exposure_ev = 0;  // against a nominal exposure that puts an 18 % grey at 0.12 of saturation
  double iso = 100;
  Vec3 as_shot_neutral{1, 1, 1};  // camera values of what the camera takes for neutral, green 1
  std::uint64_t noise_seed = 0;
  double flare = 0;  // veiling light as a share of the mean
};

// Linear camera values with exposure, vignetting and flare, 1 at saturation, without noise. `response` is
// what SensorInLight::Expose gives for the camera's sensitivities; `neutral_green` its Neutral()[1].
image::RgbF Illuminate(const Camera& camera, const image::RgbF& response, double neutral_green,
                       const Shot& shot);

// Bayer counts (RGGB) with shot and read noise.
image::Raster<std::uint16_t, 1> Mosaic(const Camera& camera, const image::RgbF& linear, const Shot& shot,
                                       const codec::DngSpec& spec);
// The camera's own picture, sRGB encoded: its white balance, matrix, contrasty curve that clips, more chroma,
// sharpening.
image::RgbU8 Develop(const Camera& camera, const image::RgbF& linear, const Shot& shot);

// What the camera takes for neutral: the light's own, pulled toward the mean of the picture, not fully
// adapted in warm light, and off by chance.
Vec3 GuessNeutral(const Camera& camera, const image::RgbF& response, const Vec3& true_neutral,
                  std::uint64_t seed);

}  // namespace samelight::simulate
