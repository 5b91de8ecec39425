// The checks that every run of the benchmark makes, and cases that a person can follow.
#include "bench/baselines.h"

#include <gtest/gtest.h>

#include <cmath>

#include "bench/self_check.h"

namespace samelight::bench {
namespace {

TEST(SelfCheck, FindsNothing) {
  for (const std::string& finding : SelfCheck()) ADD_FAILURE() << finding;
}

TEST(Histograms, RanksTakeTheTargetsValues) {
  image::RgbF source(4, 1), target(4, 1);
  source.data() = {0.1f, 0, 0, 0.4f, 0, 0, 0.2f, 0, 0, 0.3f, 0, 0};
  target.data() = {0.9f, 0, 0, 0.5f, 0, 0, 0.7f, 0, 0, 0.6f, 0, 0};
  const image::RgbF got = MatchHistograms(source, target);
  const float wanted[] = {0.5f, 0.9f, 0.6f, 0.7f};
  for (int i = 0; i < 4; ++i) EXPECT_FLOAT_EQ(*got.at(i, 0), wanted[i]);
}

TEST(Histograms, EqualValuesStayEqual) {
  image::RgbF source(3, 1), target(3, 1);
  source.data() = {0.2f, 0, 0, 0.2f, 0, 0, 0.8f, 0, 0};
  target.data() = {0.1f, 0, 0, 0.3f, 0, 0, 0.5f, 0, 0};
  const image::RgbF got = MatchHistograms(source, target);
  EXPECT_EQ(*got.at(0, 0), *got.at(1, 0));
  EXPECT_LT(*got.at(1, 0), *got.at(2, 0));
}

// A rotation by 45 degrees in red-green takes diag(4, 1) to [[2.5, 1.5], [1.5, 2.5]]; its transport is
// symmetric, so it is not the rotation itself. T T = ... by hand: for A = I, T is the root of B: [[1.5, 0.5],
// [0.5, 1.5]].
TEST(MongeKantorovich, FromUnitCovarianceIsTheRoot) {
  const Mat3 b{{{2.5, 1.5, 0}, {1.5, 2.5, 0}, {0, 0, 9}}};
  const Mat3 t = MongeKantorovich(kIdentity3, b);
  const Mat3 wanted{{{1.5, 0.5, 0}, {0.5, 1.5, 0}, {0, 0, 3}}};
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(t[r][c], wanted[r][c], 1e-9);
}

// A picture that is already like the target stays as it is.
TEST(Baselines, LeaveThePictureOfTheSameStatistics) {
  image::RgbF picture(16, 16);
  for (std::size_t i = 0; i < picture.pixels(); ++i)
    for (int c = 0; c < 3; ++c)
      picture.data()[3 * i + c] = static_cast<float>(0.3 + 0.4 * std::abs(std::sin(0.37 * i * (c + 1) + c)));
  const image::RgbF results[] = {
      MatchMeanAndDeviation(picture, picture, false), MatchMeanAndDeviation(picture, picture, true),
      MatchCovariance(picture, picture, MapSpace::kEncodedRgb),
      MatchCovariance(picture, picture, MapSpace::kLab), MatchHistograms(picture, picture)};
  for (const image::RgbF& got : results)
    for (std::size_t i = 0; i < picture.data().size(); ++i)
      ASSERT_NEAR(got.data()[i], picture.data()[i], 1e-4);
}

}  // namespace
}  // namespace samelight::bench
