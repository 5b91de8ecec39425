#include "color/lab.h"

#include <random>

#include "color/difference.h"
#include "color/published_test.h"
#include "color/spectrum.h"

namespace samelight::color {
namespace {

// 24-patch target, mean of 30 charts: Lab computed from xyY by another implementation, white 0.3457 0.3585, 3
// decimals.
TEST(Lab, TargetOf24PatchesFromItsXyY) {
  for (const Row& row : Published("target24_D50_xyY_Lab.csv", 24)) {
    Vec3 xyz = XyzFromXy({row["avg30_x"], row["avg30_y"]});
    for (double& v : xyz) v *= row["avg30_Y"];
    const Vec3 lab = LabFromXyz(xyz, XyzFromXy(kD50));
    ExpectNear(lab, row.Three("avg30_L", "avg30_a", "avg30_b"), 0.5e-3 + 1e-9, row.Text("patch"));
  }
}

// Two charts of this kind differ by about 1: the bounds are those found by the other implementation (mean
// against maker after November 2014: mean 0.81, max 1.52), so they test the whole way xyY - Lab - CIEDE2000,
// not the charts.
TEST(Lab, TargetOf24PatchesAgainstItsMaker) {
  double sum = 0, most = 0;
  for (const Row& row : Published("target24_D50_xyY_Lab.csv", 24)) {
    Vec3 xyz = XyzFromXy({row["avg30_x"], row["avg30_y"]});
    for (double& v : xyz) v *= row["avg30_Y"];
    const double d = Ciede2000(LabFromXyz(xyz, XyzFromXy(kD50)),
                               row.Three("maker_after2014_L", "maker_after2014_a", "maker_after2014_b"));
    sum += d;
    most = std::max(most, d);
  }
  EXPECT_NEAR(sum / 24, 0.81, 0.005);
  EXPECT_NEAR(most, 1.52, 0.005);
}

// ISO/CIE 11664-4: L* = 100 for the white, 0 for black; Y = 0.18418652 is L* 50 exactly (((50 + 16) /
// 116)^3).
TEST(Lab, EndsAndMiddle) {
  const Vec3 white = XyzFromXy(kD65);
  ExpectNear(LabFromXyz(white, white), {100, 0, 0}, 1e-12, "white");
  ExpectNear(LabFromXyz({0, 0, 0}, white), {0, 0, 0}, 1e-12, "black");
  const double y = std::pow(66.0 / 116.0, 3);
  ExpectNear(LabFromXyz({white[0] * y, y, white[2] * y}, white), {50, 0, 0}, 1e-12, "middle");
}

TEST(Lab, GoesRoundForEveryWhiteNegativesToo) {
  std::mt19937 random(2);
  std::uniform_real_distribution<double> value(-0.3, 3);
  for (const Xy xy : {kD65, kD50}) {
    const Vec3 white = XyzFromXy(xy);
    for (int i = 0; i < 5000; ++i) {
      const Vec3 xyz{value(random), value(random), value(random)};
      ExpectNear(XyzFromLab(LabFromXyz(xyz, white), white), xyz, 1e-12, "xyz");
      ExpectNear(Rec2020FromLab(LabFromRec2020(xyz)), xyz, 1e-12, "rec2020");
    }
  }
}

TEST(Lab, WorkingSpaceIsBt2020UnderD65AndNeutralsStayNeutral) {
  for (const double v : {-0.1, 0.0, 1e-4, 0.01, 0.18, 1.0, 8.0}) {
    const Vec3 lab = LabFromRec2020({v, v, v});
    EXPECT_NEAR(lab[1], 0, 1e-10) << v;
    EXPECT_NEAR(lab[2], 0, 1e-10) << v;
  }
  const Vec3 rgb{0.3, 0.05, 0.6};
  ExpectNear(LabFromRec2020(rgb), LabFromXyz(Mul(XyzFromRgb(Space::kRec2020), rgb), XyzFromXy(kD65)), 1e-12,
             "xyz");
}

}  // namespace
}  // namespace samelight::color
