// Whole sessions that are unlike a usual one. Painted scenes, invented; the seeds were not used for tuning.
#include <gtest/gtest.h>

#include <map>
#include <set>

#include "pair/session_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;
using record::PairKind;

struct Small : Session {
  Small() {
    width_px = 432;
    height_px = 324;
  }
  PhotoId Frame(int scene, std::optional<double> time_s, const std::string& body = "body one") {
    const PhotoId id = AddFrame(scene, ++seed, time_s, body);
    scene_of[id] = scene;
    return id;
  }
  PhotoId Scan(int scene, double turn_deg = 0, bool grey = false) {
    Dice dice(++seed);
    Framing f = Near(dice);
    f.angle_deg += turn_deg;
    if (turn_deg != 0) std::swap(f.width_px, f.height_px);
    Rendering r = AnotherRendering(dice);
    r.black_and_white = grey;
    const PhotoId id = AddScan(SeenAgain(Scene(scene), f, r, seed));
    scene_of[id] = scene;
    return id;
  }
  void ExpectAllRight(const Pairing& p) {
    for (const record::Pair& pair : p.pairs) {
      EXPECT_EQ(pair.kind, PairKind::kMoment);
      EXPECT_TRUE(pair.frame.valid() && scene_of.at(pair.frame) == scene_of.at(pair.scan))
          << "scene " << scene_of.at(pair.scan);
    }
  }
  std::uint64_t seed = 7000;
  std::map<PhotoId, int> scene_of;
};

TEST(OddSessions, TwoScansAndTenFramesInOneLight) {
  Small s;
  for (int k = 0; k < 10; ++k) s.Frame(k % 4, 40.0 * k);
  for (int scene : {1, 3}) s.Scan(scene);
  const Pairing p = s.Pair();
  EXPECT_EQ(p.lights.size(), 1u);
  s.ExpectAllRight(p);
}

TEST(OddSessions, ThreeBodiesOfWhichOneIsADayOff) {
  Small s;
  const std::map<std::string, double> clock{{"body one", 0}, {"body two", 95}, {"body three", -86400}};
  for (int scene = 0; scene < 4; ++scene)
    for (int k = 0; k < 2; ++k)
      for (const auto& [body, off] : clock) s.Frame(scene, 40000 + 300 * scene + 9 * k + off, body);
  for (int scene : {0, 2, 3}) s.Scan(scene);
  const Pairing p = s.Pair();
  s.ExpectAllRight(p);
  ASSERT_EQ(p.clocks.size(), 3u);
  const auto set_off = [&](const std::string& body) {
    for (const BodyClock& c : p.clocks)
      if (c.body == body) return c.offset_s;
    return 0.0;
  };
  for (const auto& [body, off] : clock)
    EXPECT_NEAR(set_off(body) - set_off("body one"), clock.at("body one") - off, 20) << body;
}

TEST(OddSessions, EveryScanTurnedByARightAngle) {
  for (double turn_deg : {90.0, -90.0}) {
    Small s;
    for (int scene = 0; scene < 4; ++scene)
      for (int k = 0; k < 2; ++k) s.Frame(scene, 200.0 * scene + 8 * k);
    for (int scene = 0; scene < 4; ++scene) s.Scan(scene, turn_deg);
    s.ExpectAllRight(s.Pair());
  }
}

TEST(OddSessions, NoFileKnowsItsTime) {
  Small s;
  for (int scene = 0; scene < 4; ++scene)
    for (int k = 0; k < 2; ++k) s.Frame(scene, std::nullopt);
  for (int scene : {0, 1, 3}) s.Scan(scene);
  const Pairing p = s.Pair();
  s.ExpectAllRight(p);
  std::set<PhotoId> frames;
  for (const record::Light& light : p.lights) frames.insert(light.frames.begin(), light.frames.end());
  EXPECT_EQ(frames.size(), 8u) << "every frame is in a light";
}

TEST(OddSessions, OnlyBlackAndWhiteRolls) {
  Small s;
  for (int scene = 0; scene < 4; ++scene)
    for (int k = 0; k < 2; ++k) s.Frame(scene, 200.0 * scene + 8 * k);
  for (int scene : {0, 1, 2, 3}) s.Scan(scene, 0, true);
  s.ExpectAllRight(s.Pair());
}

}  // namespace
}  // namespace samelight::pair
