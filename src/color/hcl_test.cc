#include "color/hcl.h"

#include <cmath>
#include <limits>
#include <random>

#include "color/published_test.h"
#include "color/space.h"

namespace samelight::color {
namespace {

// Ottosson 2020, "Table of example XYZ and Oklab pairs", 3 decimals; the rows scaled to neutral add up to
// 3e-4.
TEST(Hcl, PublishedPairs) {
  for (const Row& row : Published("oklab_pairs.csv", 4)) {
    const Vec3 rec2020 = Mul(RgbFromXyz(Space::kRec2020), row.Three("X", "Y", "Z"));
    ExpectNear(OklabFromRec2020(rec2020), row.Three("L", "a", "b"), 0.5e-3, row.Text("X"));
  }
}

// Worked examples of another implementation, 8 decimals: the rows scaled to neutral move b by up to 1.3e-4 at
// the white.
TEST(Hcl, WorkedExamples) {
  for (const Row& row : Published("oklab_examples.csv", 3)) {
    const Vec3 rec2020 = Mul(RgbFromXyz(Space::kRec2020), row.Three("X", "Y", "Z"));
    ExpectNear(OklabFromRec2020(rec2020), row.Three("L", "a", "b"), 1.3e-4, row.Text("X"));
  }
}

// Ottosson 2020, M1 and M2. The scale of a row of M1 is what makes the working space's white 1.
TEST(Hcl, PublishedMatrices) {
  const Mat3 lms_from_xyz = Mul(LmsFromRec2020(), RgbFromXyz(Space::kRec2020));
  const Vec3 white = XyzFromXy(kD65);
  for (const Row& row : Published("oklab_matrices.csv", 6)) {
    const int r = static_cast<int>(row["row"]) - 1;
    const Vec3 want = row.Three("c1", "c2", "c3");
    if (row.Text("matrix") == "M2") {
      ExpectNear(OklabFromRootLms()[r], want, 0, "M2");
      continue;
    }
    const double scale = want[0] * white[0] + want[1] * white[1] + want[2] * white[2];
    EXPECT_NEAR(scale, 1, 5e-4);
    ExpectNear({lms_from_xyz[r][0] * scale, lms_from_xyz[r][1] * scale, lms_from_xyz[r][2] * scale}, want,
               1e-12, "M1");
  }
}

TEST(Hcl, NeutralsHaveNoChromaAndLightnessIsTheCubeRoot) {
  for (const double v : {-0.2, 0.0, 1e-6, 0.01, 0.18, 1.0, 30.0}) {
    const Hcl hcl = HclFromRec2020({v, v, v});
    EXPECT_NEAR(hcl.chroma, 0, 4e-8 * std::cbrt(std::fabs(v)) + 1e-15) << v;
    EXPECT_NEAR(hcl.lightness, std::cbrt(v), 1e-8 * std::cbrt(std::fabs(v))) << v;
  }
}

TEST(Hcl, GoesRoundAlsoForNegativesZeroAndHighlights) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> value(-1, 8);
  for (int i = 0; i < 10000; ++i) {
    Vec3 rgb{value(random), value(random), value(random)};
    if (i % 5 == 0) rgb[i % 3] = 0;
    ExpectNear(Rec2020FromOklab(OklabFromRec2020(rgb)), rgb, 1e-11, "oklab");
    const Hcl hcl = HclFromRec2020(rgb);
    EXPECT_GE(hcl.hue_deg, 0);
    EXPECT_LT(hcl.hue_deg, 360);
    EXPECT_GE(hcl.chroma, 0);
    ExpectNear(Rec2020FromHcl(hcl), rgb, 1e-11, "hcl");
  }
  ExpectNear(Rec2020FromHcl(HclFromRec2020({0, 0, 0})), {0, 0, 0}, 0, "black");
  EXPECT_TRUE(std::isnan(HclFromRec2020({std::numeric_limits<double>::quiet_NaN(), 0, 0}).lightness));
}

// The polar form: turning the hue keeps chroma and lightness; hue 90 is +b, 180 is -a.
TEST(Hcl, PolarForm) {
  const Hcl yellow = HclFromOklab({0.5, 0, 0.1}), green = HclFromOklab({0.5, -0.1, 0});
  EXPECT_DOUBLE_EQ(yellow.hue_deg, 90);
  EXPECT_DOUBLE_EQ(green.hue_deg, 180);
  EXPECT_DOUBLE_EQ(HclFromOklab({0.5, 0, -0.1}).hue_deg, 270);
  EXPECT_DOUBLE_EQ(yellow.chroma, 0.1);
  EXPECT_DOUBLE_EQ(yellow.lightness, 0.5);
  EXPECT_EQ(HclFromOklab({0.5, 0, 0}).hue_deg, 0);
  // A hue a rounding error below 0 must not become 360.
  EXPECT_LT(HclFromOklab({0.5, 1, -1e-300}).hue_deg, 360);
}

TEST(Hcl, MatricesAreInverseAndTheConeRowsSumToOne) {
  ExpectNear(Mul(Rec2020FromLms(), LmsFromRec2020()), kIdentity3, 1e-12, "lms");
  ExpectNear(Mul(RootLmsFromOklab(), OklabFromRootLms()), kIdentity3, 1e-12, "oklab");
  for (const Vec3& row : LmsFromRec2020()) EXPECT_NEAR(row[0] + row[1] + row[2], 1, 1e-15);
}

}  // namespace
}  // namespace samelight::color
