#include "color/space.h"

#include <cmath>
#include <limits>
#include <map>

#include "color/encode_float.h"
#include "color/published_test.h"

namespace samelight::color {
namespace {

// Which line of the published tables stands for a space. Every space that has a name must be here.
const std::map<Space, std::string>& LineOf() {
  static const std::map<Space, std::string> lines{{Space::kSrgb, "srgb_bt709"},
                                                  {Space::kDisplayP3, "display_p3"},
                                                  {Space::kAdobeRgb, "adobe_rgb_1998_standard"},
                                                  {Space::kRec2020, "bt2020"},
                                                  {Space::kRomm, "romm_iso22028_2"}};
  return lines;
}

TEST(Space, EverySpaceHasALineAndEveryLineASpace) {
  int named = 0;
  for (; Name(static_cast<Space>(named))[0] != 0; ++named)
    EXPECT_TRUE(LineOf().contains(static_cast<Space>(named))) << Name(static_cast<Space>(named));
  EXPECT_EQ(LineOf().size(), static_cast<std::size_t>(named));
  Published("rgb_spaces.csv", static_cast<std::size_t>(named));
}

// IEC 61966-2-1, ITU-R BT.2020-2, SMPTE EG 432-1, Adobe RGB (1998), ISO 22028-2: primaries and whites are
// exact numbers.
TEST(Space, PrimariesAndWhites) {
  const auto rows = Published("rgb_spaces.csv", 5);
  for (const auto& [space, line] : LineOf()) {
    bool found = false;
    for (const Row& row : rows) {
      if (row.Text("space") != line) continue;
      found = true;
      const char* const columns[3][2] = {{"xr", "yr"}, {"xg", "yg"}, {"xb", "yb"}};
      for (int c = 0; c < 3; ++c) {
        Vec3 rgb{};
        rgb[c] = 1;
        const Xy xy = XyFromXyz(Mul(XyzFromRgb(space), rgb));
        EXPECT_NEAR(xy.x, row[columns[c][0]], 1e-12) << line << c;
        EXPECT_NEAR(xy.y, row[columns[c][1]], 1e-12) << line << c;
      }
      EXPECT_EQ(White(space).x, row["xw"]) << line;
      EXPECT_EQ(White(space).y, row["yw"]) << line;
      ExpectNear(Mul(XyzFromRgb(space), Vec3{1, 1, 1}), XyzFromXy(White(space)), 1e-14, line);
    }
    EXPECT_TRUE(found) << line;
  }
}

// Computed by another implementation from the same primaries, 9 decimals.
TEST(Space, Matrices) {
  const auto rows = Published("rgb_spaces_matrices.csv", 15);
  for (const auto& [space, line] : LineOf()) {
    int found = 0;
    for (const Row& row : rows) {
      if (row.Text("space") != line) continue;
      ++found;
      const int r = static_cast<int>(row["row"]) - 1;
      ExpectNear(XyzFromRgb(space)[r], row.Three("rgb2xyz_c1", "rgb2xyz_c2", "rgb2xyz_c3"), 0.5e-9 + 1e-14,
                 line);
      ExpectNear(RgbFromXyz(space)[r], row.Three("xyz2rgb_c1", "xyz2rgb_c2", "xyz2rgb_c3"), 0.5e-9 + 1e-14,
                 line);
    }
    EXPECT_EQ(found, 3) << line;
  }
}

// ITU-R BT.2087-0: linear BT.709 to linear BT.2020, 4 decimals.
TEST(Space, FromBt709ToBt2020) {
  ExpectNear(RgbFromRgb(Space::kRec2020, Space::kSrgb),
             {{{0.6274, 0.3293, 0.0433}, {0.0691, 0.9195, 0.0114}, {0.0164, 0.0880, 0.8956}}}, 0.5e-4 + 1e-9,
             "BT.2087");
}

// ITU-R BT.2020-2, table 4: rounded to four places there.
TEST(Space, LuminanceIsTheSecondRowOfTheMatrix) {
  const Mat3 m = XyzFromRgb(Space::kRec2020);
  for (int c = 0; c < 3; ++c) {
    Vec3 one{0, 0, 0};
    one[c] = 1;
    EXPECT_NEAR(LuminanceRec2020(one), m[1][c], 5.1e-5);
  }
}

TEST(Space, EveryWayBetweenSpacesKeepsNeutralsAndGoesRound) {
  for (const auto& [a, line_a] : LineOf()) {
    for (const auto& [b, line_b] : LineOf()) {
      ExpectNear(Mul(RgbFromRgb(a, b), Vec3{0.4, 0.4, 0.4}), {0.4, 0.4, 0.4}, 1e-12, line_a + line_b);
      ExpectNear(Mul(RgbFromRgb(a, b), RgbFromRgb(b, a)), kIdentity3, 1e-12, line_a + line_b);
    }
  }
}

// Knots of the encodings as the standards print them.
TEST(Space, EncodingsAtTheKnotsOfTheirStandards) {
  // IEC 61966-2-1: 0.0031308 is 0.04045 (rounded there); 12.92 below.
  EXPECT_NEAR(Encode(Space::kSrgb, 0.0031308), 0.04045, 1e-6);
  EXPECT_DOUBLE_EQ(Encode(Space::kSrgb, 0.001), 0.01292);
  // ITU-R BT.2020-2, table 4: alpha 1.0993, beta 0.0181 (12 bit); 4.5 below. 0.18 to 0.4 grey: BT.709 gives
  // 0.409 with its three digits, alike here.
  EXPECT_NEAR(Encode(Space::kRec2020, 0.0181), 4.5 * 0.0181, 1e-5);
  EXPECT_NEAR(Encode(Space::kRec2020, 0.5), 1.0993 * std::pow(0.5, 0.45) - 0.0993, 1e-5);
  // ISO 22028-2: slope 16 up to 16^(1.8 / (1 - 1.8)).
  const double knot = std::pow(16.0, 1.8 / (1 - 1.8));
  EXPECT_NEAR(Encode(Space::kRomm, knot), 16 * knot, 1e-12);
  EXPECT_NEAR(Encode(Space::kRomm, 0.95 * knot), 16 * 0.95 * knot, 1e-12);
  EXPECT_NEAR(Encode(Space::kRomm, 1.05 * knot), std::pow(1.05 * knot, 1 / 1.8), 1e-12);
  EXPECT_NEAR(Encode(Space::kRomm, 0.5), std::pow(0.5, 1 / 1.8), 1e-12);
  // Adobe RGB (1998), 4.3.1.2: gamma 2 + 51/256.
  EXPECT_NEAR(Decode(Space::kAdobeRgb, 0.5), std::pow(0.5, 2 + 51.0 / 256), 1e-12);
  // Display P3 is encoded like sRGB.
  for (const double v : {0.001, 0.02, 0.18, 0.9})
    EXPECT_EQ(Encode(Space::kDisplayP3, v), Encode(Space::kSrgb, v));
}

TEST(Space, EncodingsGoRoundRiseAndAreOdd) {
  for (const auto& [space, line] : LineOf()) {
    EXPECT_NEAR(Encode(space, 1.0), 1.0, 1e-12) << line;
    EXPECT_EQ(Encode(space, 0.0), 0.0) << line;
    double before = -1e300;
    for (int i = -4000; i <= 20000; ++i) {
      const double v = i * 2e-4;
      const double e = Encode(space, v);
      EXPECT_GT(e, before) << line << " at " << v;
      before = e;
      EXPECT_EQ(Encode(space, -v), -e) << line << " at " << v;
      if (std::abs(v) <= 1) {
        EXPECT_NEAR(EncodeInFloat(space, static_cast<float>(v)), e, 3e-7) << line << " at " << v;
      }
      // The sRGB standard's rounded knots do not meet exactly: 1e-7 there, else to rounding.
      EXPECT_NEAR(Decode(space, e), v, 1e-7) << line << " at " << v;
    }
    EXPECT_TRUE(std::isnan(Encode(space, std::numeric_limits<double>::quiet_NaN()))) << line;
    EXPECT_TRUE(std::isnan(Decode(space, std::numeric_limits<double>::quiet_NaN()))) << line;
  }
}

}  // namespace
}  // namespace samelight::color
