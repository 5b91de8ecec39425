// Film sees a light by its layers, a camera by its channels. Spectra of CIE 015:2018 (daylight, Planck's law)
// on the measured surfaces of simulate/data, through measured cameras onto simulated stocks of the usual
// world: how far what a camera shows of a surface, balanced for the light, is from what the layers see of it.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>

#include "codec/camera_matrix.h"
#include "color/spectrum.h"
#include "simulate/camera.h"
#include "simulate/film.h"
#include "simulate/lighting.h"
#include "simulate/tables.h"
#include "solve/film_layers.h"

namespace samelight::bench {
namespace {

using color::Spectrum;
using Values = Eigen::MatrixX3d;

const std::vector<simulate::NamedSpectrum>& Surfaces() { return simulate::Table("objects"); }

// Rows: surfaces. Camera values balanced for the light, through `film` or the camera's own matrix.
Values Shown(const simulate::Camera& camera, const Spectrum& light, bool film) {
  const Vec3 white = simulate::Respond(camera.sees, light);
  const Vec3 as_shot{white[1] / white[0], 1, white[1] / white[2]};
  record::RawColour colour;
  EXPECT_TRUE(
      codec::ColourFrom({{21, camera.camera_from_xyz}, {17, camera.camera_from_xyz_a}}, as_shot, colour));
  const Mat3 m = film ? solve::BalancedForFilm(colour.rec2020_from_camera, colour.rec2020_unadapted, as_shot)
                      : colour.rec2020_from_camera;
  Values out(static_cast<int>(Surfaces().size()), 3);
  for (int i = 0; i < out.rows(); ++i) {
    Vec3 v = simulate::Respond(camera.sees, simulate::Under(Surfaces()[i].values, light));
    for (int c = 0; c < 3; ++c) v[c] *= as_shot[c] / white[1];
    v = Mul(m, v);
    out.row(i) << v[0], v[1], v[2];
  }
  return out;
}

Values OnFilm(const simulate::Stock& stock, const Spectrum& light) {
  const Vec3 white = simulate::Respond(stock.layers, light);
  Values out(static_cast<int>(Surfaces().size()), 3);
  for (int i = 0; i < out.rows(); ++i) {
    const Vec3 v = simulate::Respond(stock.layers, simulate::Under(Surfaces()[i].values, light));
    out.row(i) << v[0] / white[0], v[1] / white[1], v[2] / white[2];
  }
  return out;
}

// Mean square of log10 between what is shown in `light`, through the matrix that is best in daylight, and
// film.
double Miss(const simulate::Camera& camera, const simulate::Stock& stock, const Spectrum& light, bool film) {
  const Spectrum day = simulate::UnitY(color::DaylightSpectrum(5500));
  const Values from = Shown(camera, day, film), to = OnFilm(stock, day);
  const Eigen::VectorXd even = to.rowwise().mean().cwiseInverse();
  const Eigen::Matrix3d look = (even.asDiagonal() * from).colPivHouseholderQr().solve(even.asDiagonal() * to);
  const auto logs = [](const Values& v) { return v.cwiseMax(0.003).array().log10(); };
  return (logs(Shown(camera, light, film) * look) - logs(OnFilm(stock, light))).square().mean();
}

// Over all stocks and bodies from `first` to before `end`, root mean square.
double Miss(const Spectrum& light, bool film, int first = 0, int end = simulate::kCameraCount) {
  double sum = 0;
  int count = 0;
  for (int index = first; index < end; ++index)
    for (int stock = 0; stock < 3; ++stock, ++count)
      sum += Miss(simulate::MakeCamera(index, 5), simulate::MakeStocks(5)[stock], light, film);
  return std::sqrt(sum / count);
}

Spectrum Sky() { return simulate::UnitY(color::DaylightSpectrum(12000)); }

TEST(Layers, TakingALightBackByLayersIsNearerToFilmInSkyAndLamplight) {
  EXPECT_LT(Miss(Sky(), true), 0.88 * Miss(Sky(), false));
  for (const double kelvin : {2700.0, 3200.0}) {
    const Spectrum lamp = simulate::UnitY(color::PlanckSpectrum(kelvin));
    EXPECT_LT(Miss(lamp, true), 0.88 * Miss(lamp, false)) << kelvin;
  }
}

TEST(Layers, InDaylightShadeAndCandlelightNothingIsLost) {
  for (const Spectrum& power :
       {color::DaylightSpectrum(6000), color::DaylightSpectrum(7500), color::PlanckSpectrum(1950)}) {
    const Spectrum light = simulate::UnitY(power);
    EXPECT_LT(Miss(light, true), 1.02 * Miss(light, false));
  }
}

// Its colours overlap most, and its channels take a blue sky back worst.
TEST(Layers, TheStackedSensorGainsMost) {
  constexpr int kStacked = simulate::kStackedCamera;
  EXPECT_LT(Miss(Sky(), true, kStacked, kStacked + 1), 0.7 * Miss(Sky(), false, kStacked, kStacked + 1));
}

}  // namespace
}  // namespace samelight::bench
