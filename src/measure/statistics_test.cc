#include <gtest/gtest.h>

#include <algorithm>

#include "measure/measure.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

using record::RegionKind;

std::uint8_t Label(RegionKind kind) { return static_cast<std::uint8_t>(kind); }

const record::RegionStat* Find(const std::vector<record::RegionStat>& stats, RegionKind kind, int face = -1) {
  const auto at = std::find_if(stats.begin(), stats.end(),
                               [&](const auto& s) { return s.kind == kind && s.face == face; });
  return at == stats.end() ? nullptr : &*at;
}

// Two faces' skin on the left half, foliage on the right, the lowest rows masked. Red runs 0..1 along each
// row of 201.
struct Example {
  image::RgbF pixels{201, 40};
  image::PlaneU8 labels{201, 40}, faces{201, 40};
  Example() {
    for (int y = 0; y < 40; ++y)
      for (int x = 0; x < 201; ++x) {
        float* p = pixels.at(x, y);
        p[0] = static_cast<float>(x) / 200;
        p[1] = static_cast<float>(y);
        p[2] = 0.25f;
        *labels.at(x, y) = Label(y >= 35   ? RegionKind::kMasked
                                 : x < 101 ? RegionKind::kSkin
                                           : RegionKind::kFoliage);
        *faces.at(x, y) = x < 101 ? (y < 20 ? 1 : 2) : 0;
      }
  }
};

TEST(RegionStatistics, QuantilesMeansAndAreas) {
  const Example e;
  const auto stats = RegionStatistics(e.pixels, e.labels, e.faces);
  const record::RegionStat* skin = Find(stats, RegionKind::kSkin);
  ASSERT_NE(skin, nullptr);
  // Red is 0, 1/200, ... 100/200, the same number of times each.
  const double red[5] = {0.025, 0.125, 0.25, 0.375, 0.475};
  for (int q = 0; q < 5; ++q) EXPECT_NEAR(skin->quantiles[q][0], red[q], 1e-6) << q;
  EXPECT_NEAR(skin->mean[0], 0.25, 1e-6);
  EXPECT_NEAR(skin->mean[1], 17, 1e-6);
  EXPECT_NEAR(skin->mean[2], 0.25, 1e-6);
  EXPECT_NEAR(skin->area, 101.0 * 35 / (201 * 40), 1e-12);
  const record::RegionStat *one = Find(stats, RegionKind::kSkin, 0), *two = Find(stats, RegionKind::kSkin, 1);
  ASSERT_NE(one, nullptr);
  ASSERT_NE(two, nullptr);
  EXPECT_NEAR(one->mean[1], 9.5, 1e-6);
  EXPECT_NEAR(two->mean[1], 27, 1e-6);
  EXPECT_NEAR(one->area + two->area, skin->area, 1e-12);
  ASSERT_NE(Find(stats, RegionKind::kFoliage), nullptr);
  EXPECT_EQ(Find(stats, RegionKind::kMasked), nullptr);
  EXPECT_EQ(Find(stats, RegionKind::kSky), nullptr);
}

TEST(RegionStatistics, LeavesOutWhatIsNoNumberAndRegionsTooSmall) {
  Example e;
  for (int y = 0; y < 10; ++y) e.pixels.at(5, y)[1] = std::nanf("");
  *e.labels.at(150, 3) = Label(RegionKind::kSky);
  const auto stats = RegionStatistics(e.pixels, e.labels, e.faces);
  EXPECT_NEAR(Find(stats, RegionKind::kSkin)->area, (101.0 * 35 - 10) / (201 * 40), 1e-12);
  EXPECT_EQ(Find(stats, RegionKind::kSky), nullptr);
}

TEST(RegionStatistics, OtherSizesGiveNothing) {
  const Example e;
  EXPECT_TRUE(RegionStatistics(image::RgbF(10, 10), e.labels, e.faces).empty());
  // Without a plane of faces, skin is one region.
  EXPECT_EQ(Find(RegionStatistics(e.pixels, e.labels, image::PlaneU8()), RegionKind::kSkin, 0), nullptr);
}

}  // namespace
}  // namespace samelight::measure
