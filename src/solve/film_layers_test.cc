// Lights are taken back as film does it. Invented matrices where numbers are given; the check against spectra
// is in bench/layers_test.cc.
#include "solve/film_layers.h"

#include <gtest/gtest.h>

namespace samelight::solve {
namespace {

const Mat3 kCamera{{{1.6, -0.5, -0.1}, {-0.2, 1.4, -0.2}, {0.0, -0.5, 1.5}}};

Mat3 Unadapted(const Vec3& daylight) { return Mul(kCamera, Diagonal(daylight)); }

TEST(FilmLayers, GreysOfALightComeOutGrey) {
  for (const Vec3& white : {Vec3{2, 1, 1.5}, Vec3{1.1, 1, 3.5}, Vec3{2.6, 1, 1.1}}) {
    const Vec3 grey = Mul(BalancedForFilm(kCamera, Unadapted({2, 1, 1.5}), white), Vec3{0.18, 0.18, 0.18});
    for (double v : grey) EXPECT_NEAR(v, 0.18, 1e-9);
  }
}

TEST(FilmLayers, InDaylightTheMatrixOfTheCameraHolds) {
  const Mat3 m = BalancedForFilm(kCamera, Unadapted({2, 1, 1.5}), {2, 1, 1.5});
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(m[r][c], kCamera[r][c], 1e-9) << r << c;
}

TEST(FilmLayers, ALightWhoseBlueTheCameraTakesBelowZeroKeepsItsMatrix) {
  EXPECT_EQ(BalancedForFilm(kCamera, Unadapted({2, 1, 1.5}), {0.9, 1, 30}), kCamera);
  EXPECT_EQ(BalancedForFilm(kCamera, Mat3{}, {2, 1, 1.5}), kCamera);
}

}  // namespace
}  // namespace samelight::solve
