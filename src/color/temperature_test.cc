#include "color/temperature.h"

#include <cmath>
#include <limits>

#include "color/lab.h"
#include "color/published_test.h"

namespace samelight::color {
namespace {

// What sums over 5 nm (as CIE 015:2018, 7.1 allows) differ from sums over 1 nm in x, y, u, v: less than a
// unit of the sixth decimal up to 10000 K, two at 100000 K. In temperature that is 3e-5 of it.
constexpr double kFiveNm = 2e-6;
constexpr double kFiveNmRelative = 3e-5;

double Mired(double kelvin) { return MiredFromKelvin(kelvin); }

// Planck's law with 1 nm functions, and the CIE daylight formula, by another implementation, 5 decimals. The
// 5 nm sums here add at most 1e-6.
TEST(Temperature, PlanckianAndDaylightLocus) {
  int daylight = 0;
  for (const Row& row : Published("planckian_and_daylight_locus.csv", 27)) {
    const Xy planck = PlanckianXy(row["T_K"]);
    EXPECT_NEAR(planck.x, row["planck_x"], 0.5e-5 + kFiveNm) << row.Text("T_K");
    EXPECT_NEAR(planck.y, row["planck_y"], 0.5e-5 + kFiveNm) << row.Text("T_K");
    EXPECT_NEAR(UvFromXy(planck).u, row["planck_u1960"], 0.5e-5 + kFiveNm) << row.Text("T_K");
    EXPECT_NEAR(UvFromXy(planck).v, row["planck_v1960"], 0.5e-5 + kFiveNm) << row.Text("T_K");
    if (!row.Has("daylight_x")) continue;
    ++daylight;
    const Xy day = DaylightXy(row["T_K"]);
    EXPECT_NEAR(day.x, row["daylight_x"], 0.5e-5 + 1e-9) << row.Text("T_K");
    EXPECT_NEAR(day.y, row["daylight_y"], 0.5e-5 + 1e-9) << row.Text("T_K");
  }
  EXPECT_GE(daylight, 10);
}

// Robertson 1968 (Wyszecki, Stiles 2000, Table 1(3.11)): the locus and the slope of the isotherms. The line
// of 0 mired (infinite temperature) lies outside the function. The table prints 5 decimals of u, v.
TEST(Temperature, RobertsonIsotherms) {
  for (const Row& row : Published("robertson1968_isotemperature.csv", 31)) {
    if (row["mired"] == 0) continue;
    const double kelvin = 1e6 / row["mired"];
    const Uv at = UvFromXy(PlanckianXy(kelvin));
    EXPECT_NEAR(at.u, row["u"], 0.5e-5 + kFiveNm) << row.Text("mired");
    EXPECT_NEAR(at.v, row["v"], 0.5e-5 + kFiveNm) << row.Text("mired");
    const Uv near = UvFromXy(PlanckianXy(1e6 / (row["mired"] + 1e-3)));
    const double slope = -(near.u - at.u) / (near.v - at.v);
    EXPECT_NEAR(slope / row["slope"], 1, 1.5e-4) << row.Text("mired");
    if (row["mired"] < 30) continue;
    // A point along the isotherm has the temperature of its foot.
    const double along = 0.01 / std::hypot(1, row["slope"]);
    const CctDuv found = CctDuvFromXy(XyFromUv({row["u"] - along, row["v"] - along * row["slope"]}));
    EXPECT_NEAR(Mired(found.cct_k), row["mired"], 0.1) << row.Text("mired");
    EXPECT_NEAR(found.duv, 0.01, 2e-5) << row.Text("mired");
  }
}

// 63 points built by another implementation from a known temperature and Duv (1 nm functions, 7 decimals),
// both ways.
TEST(Temperature, CctAndDuvBothWays) {
  for (const Row& row : Published("cct_duv_examples.csv", 63)) {
    const std::string what = row.Text("cct_K") + " K, Duv " + row.Text("duv");
    const CctDuv found = CctDuvFromXy({row["x"], row["y"]});
    EXPECT_NEAR(found.cct_k / row["cct_K"], 1, kFiveNmRelative) << what;
    EXPECT_NEAR(found.duv, row["duv"], 1e-6) << what;
    const Xy xy = XyFromCctDuv({row["cct_K"], row["duv"]});
    EXPECT_NEAR(xy.x, row["x"], 3e-6) << what;
    EXPECT_NEAR(xy.y, row["y"], 3e-6) << what;
    const Uv uv = UvFromXy(xy);
    EXPECT_NEAR(uv.u, row["u1960"], 2e-6) << what;
    EXPECT_NEAR(uv.v, row["v1960"], 2e-6) << what;
  }
}

// CIE 015 illuminants: temperature within 8 K of the published one (their xy is rounded to 4 digits), and
// within the printed digits of another implementation.
TEST(Temperature, Illuminants) {
  for (const Row& row : Published("cct_illuminant_examples.csv", 17)) {
    const CctDuv found = CctDuvFromXy({row["x"], row["y"]});
    EXPECT_NEAR(found.cct_k, row["published_cct_K"], 8 + kFiveNmRelative * found.cct_k)
        << row.Text("illuminant");
    EXPECT_NEAR(found.cct_k, row["computed_cct_K"], 0.05 + kFiveNmRelative * found.cct_k)
        << row.Text("illuminant");
    EXPECT_NEAR(found.duv, row["computed_duv"], 0.6e-5) << row.Text("illuminant");
  }
}

// CIE 015, xy of the D illuminants: the formula at the nominal temperature times 1.4388 / 1.4380. The
// tabulated spectra lie 1e-4 in y off the standard's own formula, and 4 digits are printed.
TEST(Temperature, DaylightIlluminants) {
  int found = 0;
  for (const Row& row : Published("cie_illuminant_xy_2deg.csv", 21)) {
    const std::string name = row.Text("illuminant");
    if (name[0] != 'D') continue;
    ++found;
    const Xy xy = DaylightXy(std::stod(name.substr(1)) * 100 * 1.4388 / 1.4380);
    EXPECT_NEAR(xy.x, row["x"], 1.5e-4) << name;
    EXPECT_NEAR(xy.y, row["y"], 1.5e-4) << name;
  }
  EXPECT_EQ(found, 5);
}

TEST(Temperature, GoesRoundOverTheWholeValidRange) {
  for (double mired = 25; mired <= 1000; mired *= 1.07) {
    for (const double duv : {-0.05, -0.02, -0.003, 0.0, 0.003, 0.02, 0.05}) {
      const CctDuv found = CctDuvFromXy(XyFromCctDuv({1e6 / mired, duv}));
      EXPECT_NEAR(Mired(found.cct_k), mired, 1e-6 * mired) << mired << " " << duv;
      EXPECT_NEAR(found.duv, duv, 1e-9) << mired << " " << duv;
    }
  }
}

TEST(Temperature, EndsClampAndNaNStays) {
  EXPECT_NEAR(CctDuvFromXy(PlanckianXy(90000)).cct_k, 40000, 1e-2);
  EXPECT_NEAR(CctDuvFromXy({0.70, 0.30}).cct_k, 1000, 1e-3);
  EXPECT_EQ(PlanckianXy(10).x, PlanckianXy(1000).x);
  EXPECT_EQ(PlanckianXy(1e9).x, PlanckianXy(1e5).x);
  EXPECT_EQ(DaylightXy(10).x, DaylightXy(1000).x);
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_TRUE(std::isnan(CctDuvFromXy({nan, 0.3}).cct_k));
  EXPECT_TRUE(std::isnan(PlanckianXy(nan).x));
  EXPECT_TRUE(std::isnan(DaylightXy(nan).x));
  EXPECT_TRUE(std::isnan(XyFromCctDuv({nan, 0}).x));
  EXPECT_TRUE(std::isnan(WhiteShiftRec2020(nan, 0)[0][0]));
}

TEST(Temperature, DaylightGoesOnSmoothlyBeyondItsFormula) {
  for (const double end : {4000.0, 25000.0}) {
    const Uv inside = UvFromXy(DaylightXy(end)), below = UvFromXy(DaylightXy(end * (1 - 1e-7))),
             above = UvFromXy(DaylightXy(end * (1 + 1e-7)));
    EXPECT_NEAR(below.u, inside.u, 1e-7);
    EXPECT_NEAR(above.u, inside.u, 1e-7);
    EXPECT_NEAR(below.v, inside.v, 1e-7);
    EXPECT_NEAR(above.v, inside.v, 1e-7);
  }
  double before = 0;
  for (double mired = 10; mired <= 1000; mired += 1) {
    const double u = UvFromXy(DaylightXy(1e6 / mired)).u;
    EXPECT_GT(u, before) << mired;
    before = u;
  }
}

TEST(WhiteShift, NothingIsTheIdentity) { ExpectNear(WhiteShiftRec2020(0, 0), kIdentity3, 1e-12, "shift"); }

TEST(WhiteShift, WarmRaisesYellowGreenLowersRedAndLuminanceStays) {
  const Vec3 grey{0.18, 0.18, 0.18};
  const Vec3 luminance = XyzFromRgb(Space::kRec2020)[1];
  for (double warmth = -120; warmth <= 250; warmth += 10) {
    for (double green = -30; green <= 30; green += 5) {
      const Vec3 shifted = Mul(WhiteShiftRec2020(warmth, green), grey);
      EXPECT_NEAR(luminance[0] * shifted[0] + luminance[1] * shifted[1] + luminance[2] * shifted[2], 0.18,
                  1e-12);
    }
  }
  for (const double step : {2.0, 20.0, 80.0}) {
    EXPECT_GT(LabFromRec2020(Mul(WhiteShiftRec2020(step, 0), grey))[2], 0) << step;
    EXPECT_LT(LabFromRec2020(Mul(WhiteShiftRec2020(-step, 0), grey))[2], 0) << step;
  }
  for (const double step : {0.5, 5.0, 20.0}) {
    EXPECT_LT(LabFromRec2020(Mul(WhiteShiftRec2020(0, step), grey))[1], 0) << step;
    EXPECT_GT(LabFromRec2020(Mul(WhiteShiftRec2020(0, -step), grey))[1], 0) << step;
  }
}

// The unit of the handles: the grey's own temperature and Duv move by what was asked for.
TEST(WhiteShift, MovesByMiredAndDuv) {
  const Mat3 xyz_from_rec2020 = XyzFromRgb(Space::kRec2020);
  const CctDuv start = CctDuvFromXy(kD65);
  for (double warmth = -100; warmth <= 90; warmth += 10) {
    const CctDuv moved =
        CctDuvFromXy(XyFromXyz(Mul(xyz_from_rec2020, Mul(WhiteShiftRec2020(warmth, 0), Vec3{1, 1, 1}))));
    // CIE daylight of a nominal temperature has that correlated temperature within 0.5 mired.
    EXPECT_NEAR(Mired(moved.cct_k) - Mired(start.cct_k), warmth, 0.5) << warmth;
  }
  for (double green = -40; green <= 40; green += 5) {
    const CctDuv moved =
        CctDuvFromXy(XyFromXyz(Mul(xyz_from_rec2020, Mul(WhiteShiftRec2020(0, green), Vec3{1, 1, 1}))));
    EXPECT_NEAR((moved.duv - start.duv) * 1000, green, 1e-3) << green;
    EXPECT_NEAR(Mired(moved.cct_k), Mired(start.cct_k), 0.02) << green;
  }
}

TEST(WhiteShift, FiniteAtAndBeyondTheEnds) {
  for (const double warmth : {-1e6, -150.0, 850.0, 1e6})
    for (const double green : {-1e6, -50.0, 50.0, 1e6})
      for (const Vec3& row : WhiteShiftRec2020(warmth, green))
        for (const double v : row) EXPECT_TRUE(std::isfinite(v)) << warmth << " " << green;
}

}  // namespace
}  // namespace samelight::color
