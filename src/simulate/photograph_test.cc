#include "simulate/photograph.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace samelight::simulate {
namespace {

const Lighting& Sun() {
  static const Lighting light = MakeLighting(LightKind::kNoonSun, 1, false);
  return light;
}

TEST(Photograph, PaintedSceneHasRangeAndPeople) {
  const Photograph scene = PaintScene(4, 600);
  EXPECT_EQ(scene.levels[0].width(), 600);
  EXPECT_TRUE(scene.people);
  std::vector<float> green;
  int skin = 0;
  for (std::size_t i = 0; i < scene.levels[0].pixels(); ++i) {
    const float* p = scene.levels[0].data().data() + 3 * i;
    ASSERT_GE(*std::min_element(p, p + 3), 0);
    green.push_back(p[1]);
    skin += SkinLike(p) > 0.6f;
  }
  std::sort(green.begin(), green.end());
  EXPECT_GT(green[green.size() * 99 / 100] / green[green.size() / 100], 16);  // more than four stops
  EXPECT_GT(skin, 1000);
  EXPECT_NE(PaintScene(5, 600).levels[0].data(), scene.levels[0].data());
  EXPECT_EQ(PaintScene(4, 600).levels[0].data(), scene.levels[0].data());
}

TEST(View, InsideKeepsCornersInside) {
  const Photograph scene = PaintScene(1, 400);
  for (double aspect : {1.5, 2.0 / 3, 1.23})
    for (double x : {-0.2, 0.1, 0.95})
      for (double width : {0.3, 0.9, 1.6}) {
        View view;
        view.x = x;
        view.y = 0.2;
        view.width = width;
        view.angle_deg = 3;
        view.lean_x = 0.05;
        const View inside = Inside(view, scene, aspect);
        // A second pass has nothing to do.
        const View again = Inside(inside, scene, aspect);
        EXPECT_EQ(again.x, inside.x);
        EXPECT_EQ(again.width, inside.width);
        EXPECT_LE(inside.width, 1.0);
      }
}

TEST(View, MirroredIsMirrored) {
  const Photograph scene = PaintScene(1, 400);
  View view;
  view.width = 0.6;
  const SceneView straight = Look(scene, view, Sun(), 90, 60);
  view.mirrored = true;
  const SceneView turned = Look(scene, view, Sun(), 90, 60);
  for (int y = 0; y < 60; ++y)
    for (int x = 0; x < 90; ++x)
      EXPECT_NEAR(straight.colour.at(x, y)[1], turned.colour.at(89 - x, y)[1], 1e-4);
}

TEST(View, PushMovesOnlyItsSurroundings) {
  const Photograph scene = PaintScene(2, 600);
  View view;
  const SceneView before = Look(scene, view, Sun(), 150, 100);
  view.pushes.push_back({0.5, 0.5, 0.05, 0.03, 0});
  const SceneView after = Look(scene, view, Sun(), 150, 100);
  double near = 0, far = 0;
  for (int y = 0; y < 100; ++y)
    for (int x = 0; x < 150; ++x) {
      const double difference = std::abs(before.colour.at(x, y)[1] - after.colour.at(x, y)[1]);
      (std::hypot(x - 75, y - 50) < 15 ? near : std::hypot(x - 75, y - 50) > 60 ? far : near) += difference;
    }
  EXPECT_GT(near, 0.1);
  EXPECT_LT(far, 1e-3);
}

TEST(View, SharesStayInRange) {
  const Photograph scene = PaintScene(3, 500);
  for (LightKind kind : {LightKind::kWindow, LightKind::kEveningSun, LightKind::kLed}) {
    const SceneView view = Look(scene, {}, MakeLighting(kind, 2, true), 120, 80);
    for (float v : view.key.data()) {
      EXPECT_GE(v, 0);
      EXPECT_LE(v, 1);
    }
    for (float v : view.material.data()) {
      EXPECT_GE(v, 0);
      EXPECT_LE(v, 1);
    }
  }
}

TEST(Photograph, MissingFileIsNamed) {
  const auto read = LoadPhotograph("/nowhere/at all.jpg", 500, {});
  ASSERT_FALSE(read.ok());
  EXPECT_FALSE(read.error().file.empty());
}

}  // namespace
}  // namespace samelight::simulate
