#include "simulate/tables.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "color/cie_tables.h"
#include "color/lab.h"
#include "color/space.h"

namespace samelight::simulate {
namespace {

// Statistics at 780 nm of the 100 subjects of Cooksey, Allen, Tsai 2017, as another public repository states
// them: least 0.4345, median 0.6173, largest 0.6817.
TEST(Tables, SkinStatisticsAt780nm) {
  std::vector<double> at780;
  for (const auto& person : Table("skin"))
    if (person.name != "mean") at780.push_back(person.values[color::kSpectrumCount - 1]);
  ASSERT_EQ(at780.size(), 100u);
  std::sort(at780.begin(), at780.end());
  // The source has 778 and 781 nm, so that 780 is interpolated.
  EXPECT_NEAR(at780.front(), 0.4345, 0.003);
  EXPECT_NEAR((at780[49] + at780[50]) / 2, 0.6173, 0.003);
  EXPECT_NEAR(at780.back(), 0.6817, 0.003);
}

// CIELAB under D65 of objects of Vrhel, Gershon, Iwan 1994, computed by a separate implementation from the
// same spectra.
TEST(Tables, ObjectsHaveTheirColour) {
  const struct {
    const char* name;
    Vec3 lab;
  } known[] = {{"v032", {60.77, 8.01, 77.77}},    {"v044", {37.79, 53.06, 29.58}},
               {"v050", {45.72, -19.93, -41.42}}, {"v072", {56.63, -62.24, 46.55}},
               {"v089", {69.93, 11.78, 16.20}},   {"v100", {24.88, 6.89, 7.82}}};
  const Vec3 white = color::XyzOfIlluminant(color::kIlluminantD65);
  for (const auto& one : known) {
    const Vec3 lab =
        color::LabFromXyz(color::XyzOfReflectance(Column("objects", one.name), color::kIlluminantD65), white);
    for (int c = 0; c < 3; ++c) EXPECT_NEAR(lab[c], one.lab[c], 0.6) << one.name;
  }
}

TEST(Tables, GroupsAreAttached) {
  int skins = 0, leaves = 0;
  for (const auto& object : Table("objects")) {
    skins += object.group.starts_with("skin");
    leaves += object.group.find("green_leaf_like") != std::string::npos;
  }
  EXPECT_EQ(skins, 26);
  EXPECT_EQ(leaves, 17);
}

TEST(Tables, SensitivitiesEndAtZeroAndPeakNearOne) {
  for (const char* table : {"camera_a", "camera_c_d_e"})
    for (const auto& channel : Table(table)) {
      const double peak = *std::max_element(channel.values.begin(), channel.values.end());
      EXPECT_GT(peak, 0.3) << channel.name;
      EXPECT_LE(peak, 1.0001) << channel.name;
    }
}

}  // namespace
}  // namespace samelight::simulate
