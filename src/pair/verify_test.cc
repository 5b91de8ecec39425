#include "pair/verify.h"

#include <gtest/gtest.h>

#include "pair/evidence.h"
#include "pair/reframe_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;

// Mean distance, px of View, between the found map and the true one over the places that both show.
double MapError(const Homography& found, const Homography& truth, const View& view,
                const image::RgbF& scene) {
  double sum = 0;
  int n = 0;
  for (int i = 0; i < 100; ++i) {
    const double x = (i % 10 + 0.5) / 10 * view.width, y = (i / 10 + 0.5) / 10 * view.height;
    const auto t = Transform(truth, x, y), f = Transform(found, x, y);
    if (!t || (*t)[0] < 0 || (*t)[1] < 0 || (*t)[0] > scene.width() || (*t)[1] > scene.height()) continue;
    sum += f ? std::hypot((*f)[0] - (*t)[0], (*f)[1] - (*t)[1]) : 1e3;
    ++n;
  }
  return sum / std::max(n, 1);
}

struct Case {
  const char* name;
  double angle_deg;
  bool mirrored, black_and_white;
};

TEST(Verify, FindsAPaintedSceneAgain) {
  const image::RgbF scene = Painted(1);
  const measure::Features features = FeaturesOf(scene);
  const View scene_view(features, scene.width(), scene.height());
  int seed = 0;
  for (const Case& c : {Case{"plain", 0, false, false},
                        {"turned right", 90, false, false},
                        {"turned left", -90, false, false},
                        {"upside down", 180, false, false},
                        {"mirrored", 0, true, false},
                        {"black and white", 0, false, true},
                        {"mirrored and turned", 90, true, true}}) {
    Dice dice(++seed);
    Framing f = AnotherFraming(dice);
    f.angle_deg += c.angle_deg;
    f.mirrored = c.mirrored;
    Rendering r = AnotherRendering(dice);
    r.black_and_white = c.black_and_white;
    const measure::Features again = FeaturesOf(SeenAgain(scene, f, r, seed));
    const View view(again, f.width_px, f.height_px);
    const Verified v = Verify(view, scene_view, 1000);
    EXPECT_TRUE(GoodForCells(v)) << c.name << ": " << v.inliers.size() << " of " << v.matches << ", "
                                 << again.points.size() << " points";
    EXPECT_EQ(v.mirrored, c.mirrored) << c.name;
    EXPECT_LT(MapError(v.b_from_a, SceneFromView(scene, f), view, scene), 3) << c.name;
    const auto& h = v.b_from_a;
    const auto there = Transform(h, 300, 200);
    const auto back = Transform(Inverse(h), (*there)[0], (*there)[1]);
    EXPECT_NEAR((*back)[0], 300, 1e-6);
    EXPECT_NEAR((*back)[1], 200, 1e-6);
  }
}

TEST(Verify, UnrelatedScenesDoNotAgree) {
  std::vector<measure::Features> features;
  for (int i = 0; i < 6; ++i) features.push_back(FeaturesOf(Painted(10 + i)));
  for (int i = 0; i < 6; ++i)
    for (int j = i + 1; j < 6; ++j)
      EXPECT_FALSE(Verifies(Verify(View(features[i], 1024, 768), View(features[j], 1024, 768), 1000)))
          << i << " " << j;
}

TEST(Verify, PeopleWhoMovedCountAsPartsOfTheirOwn) {
  image::RgbF before = Painted(20), person = Painted(21, 300, 420), after = before;
  const auto put = [&](image::RgbF& scene, int x0, int y0) {
    for (int y = 0; y < person.height(); ++y)
      for (int x = 0; x < person.width(); ++x)
        std::copy(person.at(x, y), person.at(x, y) + 3, scene.at(x0 + x, y0 + y));
  };
  put(before, 120, 200);
  put(after, 480, 260);
  const measure::Features a = FeaturesOf(before), b = FeaturesOf(after);
  const Verified v = Verify(View(a, 1024, 768), View(b, 1024, 768), 1000);
  int moved = 0;
  for (const Inlier& i : v.inliers)
    if (i.part == 1) {
      EXPECT_NEAR(b.points[i.b].x * 1024 - a.points[i.a].x * 1024, 360, 12);
      ++moved;
    }
  EXPECT_GT(moved, 15);
}

TEST(Verify, FindsPublicPhotographsAgainAndOnlyThem) {
  auto files = PicturesIn(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "people");
  if (files.empty()) GTEST_SKIP() << "the people photographs were not fetched";
  std::vector<image::RgbF> scenes;
  std::vector<measure::Features> features;
  for (const auto& file : files) {
    scenes.push_back(Photograph(file));
    features.push_back(FeaturesOf(scenes.back()));
  }
  int found = 0, tried = 0;
  for (std::size_t i = 0; i < scenes.size(); ++i)
    for (int k = 0; k < 5; ++k) {
      Dice dice(100 * i + k);
      Framing f = AnotherFraming(dice);
      Rendering r = AnotherRendering(dice);
      if (k == 1) f.angle_deg += 90;
      if (k == 2) f.mirrored = true;
      r.black_and_white = k == 3;
      const measure::Features again = FeaturesOf(SeenAgain(scenes[i], f, r, 100 * i + k));
      const View view(again, f.width_px, f.height_px);
      for (std::size_t j = 0; j < scenes.size(); ++j) {
        const Verified v = Verify(view, View(features[j], scenes[j].width(), scenes[j].height()), 1000);
        if (i != j) {
          EXPECT_FALSE(Verifies(v)) << i << " as " << j;
          continue;
        }
        ++tried;
        if (!GoodForCells(v)) continue;
        ++found;
        EXPECT_LT(MapError(v.b_from_a, SceneFromView(scenes[i], f), view, scenes[i]), 5)
            << files[i] << " " << k;
      }
    }
  EXPECT_GE(found, tried * 95 / 100);
}

}  // namespace
}  // namespace samelight::pair
