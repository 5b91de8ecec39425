// Invented days: only the geometry of the loom is tested here.
#include "window/model/loom.h"

#include <cmath>
#include <numeric>
#include <random>

#include <gtest/gtest.h>

namespace samelight::window {
namespace {

Loom Day(const std::vector<int>& frames_of_light, int frames_per_scan) {
  Loom loom;
  loom.rolls = {"roll 1", "roll 2"};
  std::int64_t id = 1;
  for (const int count : frames_of_light) {
    LoomLight light;
    light.name = "light";
    light.first_frame = static_cast<int>(loom.frames.size());
    light.first_scan = static_cast<int>(loom.scans.size());
    light.frames = count;
    for (int k = 0; k < count; ++k) {
      LoomFrame frame;
      frame.id.value = id++;
      frame.light = static_cast<int>(loom.lights.size());
      frame.aspect = k % 5 == 0 ? 2.0 / 3 : 1.5;
      loom.frames.push_back(frame);
      if (k % frames_per_scan == 0) {
        LoomScan scan;
        scan.id.value = id++;
        scan.light = frame.light;
        loom.ribbons.push_back(
            {static_cast<int>(loom.scans.size()), static_cast<int>(loom.frames.size()) - 1, 0.9, false});
        loom.scans.push_back(scan);
      }
    }
    light.scans = static_cast<int>(loom.scans.size()) - light.first_scan;
    loom.lights.push_back(light);
  }
  return loom;
}

LoomGaze GazeAt(const Loom& loom, int light, double pleat, double width = 1500) {
  LoomGaze gaze;
  gaze.width = width;
  gaze.pleat.assign(loom.lights.size(), 0);
  if (light >= 0) {
    gaze.pleat[light] = pleat;
    gaze.at = loom.lights[light].first_frame + loom.lights[light].frames / 2.0;
  }
  return gaze;
}

// What every layout has to keep.
void ExpectSound(const Loom& loom, const LoomLayout& layout) {
  double x = 0;
  for (std::size_t i = 0; i < layout.lights.size(); ++i) {
    EXPECT_NEAR(layout.lights[i].x, x, 1e-6) << "lights follow each other without a gap";
    EXPECT_GT(layout.lights[i].w, 0);
    x += layout.lights[i].w;
  }
  EXPECT_NEAR(layout.total, x, 1e-6);
  const auto strip = [&](const std::vector<LoomSpan>& spans, const auto& pictures) {
    for (std::size_t k = 0; k < spans.size(); ++k) {
      const LoomSpan& light = layout.lights[pictures[k].light];
      EXPECT_GE(spans[k].x, light.x - 1e-6);
      EXPECT_LE(spans[k].x + spans[k].w, light.x + light.w + 1e-6);
      if (k > 0)
        EXPECT_GE(spans[k].x, spans[k - 1].x + spans[k - 1].w - 1e-6)
            << "picture " << k << " lies on its neighbour";
    }
  };
  strip(layout.frames, loom.frames);
  strip(layout.scans, loom.scans);
}

TEST(LoomTest, PicturesLieInOrderInsideTheirLightAtEveryPleat) {
  for (const auto& day :
       {std::vector<int>{8, 10, 6, 6, 8, 10}, std::vector<int>{70, 30, 82, 90, 60, 75, 80, 70, 70},
        std::vector<int>{1, 1, 1}, std::vector<int>{3000}, std::vector<int>(60, 50)}) {
    const Loom loom = Day(day, 4);
    for (int light = -1; light < static_cast<int>(day.size()); light += 2)
      for (const double pleat : {0.0, 0.3, 1.0, 1.6, 2.0})
        ExpectSound(loom, LayOutLoom(loom, GazeAt(loom, light, pleat)));
  }
}

TEST(LoomTest, ADayFillsTheWidthAndFoldedLightsCanStillBeHit) {
  const Loom loom = Day({70, 30, 82, 90, 60, 75, 80, 70, 70}, 4);
  for (const int light : {-1, 2}) {
    const LoomLayout layout = LayOutLoom(loom, GazeAt(loom, light, 1));
    EXPECT_NEAR(layout.total, 1500, 1);
    for (const LoomSpan& span : layout.lights) EXPECT_GE(span.w, 26);
  }
  const LoomLayout open = LayOutLoom(loom, GazeAt(loom, 2, 1));
  for (std::size_t i = 0; i < open.lights.size(); ++i)
    if (i != 2) EXPECT_LT(open.lights[i].w, open.lights[2].w / 3) << "the light in hand takes the room";
}

TEST(LoomTest, WidthFallsOffFromThePictureInHand) {
  const Loom loom = Day({10, 200, 10}, 4);
  const LoomLayout layout = LayOutLoom(loom, GazeAt(loom, 1, 1));
  const int at = 111;  // beside the one that is looked at, and in landscape
  EXPECT_GT(layout.frames[at].w, 40);
  for (int k = at + 3; k + 1 < 210; ++k)
    if (loom.frames[k].aspect == loom.frames[k + 1].aspect)
      EXPECT_LE(layout.frames[k + 1].w, layout.frames[k].w + 1e-9);
}

TEST(LoomTest, AScanLiesAboveItsFrame) {
  const Loom loom = Day({40}, 8);
  LoomGaze gaze = GazeAt(loom, 0, 1);
  gaze.at = 16;  // the third scan's frame
  const LoomLayout layout = LayOutLoom(loom, gaze);
  EXPECT_NEAR(layout.scans[2].centre(), layout.frames[16].centre(), 1);
}

TEST(LoomTest, HalfWayIsHalfWay) {
  const Loom loom = Day({8, 30, 8}, 4);
  const LoomLayout a = LayOutLoom(loom, GazeAt(loom, 0, 1)), b = LayOutLoom(loom, GazeAt(loom, 1, 1));
  const LoomLayout middle = Between(a, b, 0.5);
  ExpectSound(loom, middle);
  EXPECT_NEAR(middle.frames[10].x, (a.frames[10].x + b.frames[10].x) / 2, 1e-9);
}

TEST(LoomTest, SpansAreFoundByPlace) {
  const std::vector<LoomSpan> spans = {{0, 10}, {10, 5}, {20, 10}};
  EXPECT_EQ(SpanAt(spans, 0), 0);
  EXPECT_EQ(SpanAt(spans, 12), 1);
  EXPECT_EQ(SpanAt(spans, 17), -1) << "between two";
  EXPECT_EQ(SpanAt(spans, -1), -1);
  EXPECT_EQ(NearestSpan(spans, 17), 1);
  EXPECT_EQ(NearestSpan({}, 3), -1);
}

TEST(LoomTest, ThicknessTellsConfidence) {
  EXPECT_DOUBLE_EQ(RibbonThickness(0), 1);
  EXPECT_DOUBLE_EQ(RibbonThickness(1), 9);
  EXPECT_NEAR(RibbonThickness(0.5), 1 + 8 * std::pow(0.5, 1.7), 1e-12);
}

TEST(Loom, TellsWhichLightsLookOtherwise) {
  const Loom day = Day({40, 12, 30}, 4);
  ASSERT_TRUE(LightsThatDiffer(day, day));
  EXPECT_EQ(*LightsThatDiffer(day, day), std::vector<char>({0, 0, 0}));
  Loom other = day;
  other.frames[45].to_check = true;  // of the second light
  EXPECT_EQ(*LightsThatDiffer(day, other), std::vector<char>({0, 1, 0}));
  other.ribbons[0].by_hand = true;
  other.lights[2].name = "evening";
  EXPECT_EQ(*LightsThatDiffer(day, other), std::vector<char>({1, 1, 1}));
  // What moves pictures is told as such.
  other = day;
  ++other.ribbons[0].frame;
  EXPECT_FALSE(LightsThatDiffer(day, other)) << "a scan lies above its frame";
  other = day;
  other.frames[3].aspect = 1;
  EXPECT_FALSE(LightsThatDiffer(day, other));
  EXPECT_FALSE(LightsThatDiffer(day, Day({40, 12, 31}, 4)));
}

}  // namespace
}  // namespace samelight::window
