#include "pair/pairing.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <deque>
#include <map>
#include <set>

#include "base/task_pool.h"
#include "pair/session_testing.h"

namespace samelight::pair {
namespace {

using namespace testing;
using record::PairKind;

// Four moments in two lights, two bodies (the second 1000 s ahead), and a roll numbered backwards whose
// middle shows something that no frame shows.
struct Wedding : Session {
  std::map<PhotoId, int> scene_of;
  std::vector<PhotoId> scans;
  Wedding() {
    width_px = 540;
    height_px = 405;
    std::uint64_t seed = 1;
    const double start[] = {0, 200, 6000, 6300};
    for (int scene = 0; scene < 4; ++scene)
      for (int k = 0; k < 4; ++k) {
        const bool second = k % 2;
        const PhotoId id = AddFrame(scene, ++seed, start[scene] + 8 * k + (second ? 1000 : 0),
                                    second ? "body two" : "body one", scene < 2 ? 180 : 300);
        scene_of[id] = scene;
      }
    for (int scene : {3, 2, 9, 1, 0}) scans.push_back(AddScan(scene, ++seed, 0, scene == 2));
  }
};

// Painted and described once.
Wedding AWedding() {
  static const Wedding once;
  return once;
}

TEST(Pairing, FindsLightsClocksAndMoments) {
  const Wedding w = AWedding();
  const Pairing p = w.Pair();
  ASSERT_EQ(p.lights.size(), 2u);
  EXPECT_EQ(p.lights[0].frames.size(), 8u);
  EXPECT_NEAR(p.lights[0].mired, 180, 1);
  EXPECT_NEAR(p.lights[1].mired, 300, 1);
  ASSERT_EQ(p.clocks.size(), 2u);
  EXPECT_NEAR(p.clocks[1].offset_s - p.clocks[0].offset_s, p.clocks[1].body == "body two" ? -1000 : 1000, 10);
  ASSERT_EQ(p.pairs.size(), 5u);
  const int expected[] = {3, 2, -1, 1, 0};
  for (int i = 0; i < 5; ++i) {
    EXPECT_EQ(p.pairs[i].scan, w.scans[i]);
    if (expected[i] < 0) {
      EXPECT_EQ(p.pairs[i].kind, PairKind::kNone);
      EXPECT_FALSE(p.pairs[i].frame.valid());
      continue;
    }
    EXPECT_EQ(p.pairs[i].kind, PairKind::kMoment);
    EXPECT_EQ(w.scene_of.at(p.pairs[i].frame), expected[i]);
    EXPECT_GT(p.pairs[i].confidence, 0.9);
    EXPECT_LE(p.pairs[i].alternatives.size(), 3u);
  }
  // Every paired scan has its own frame's cells and those of others of the same scene; frames of a scene hang
  // together.
  std::map<PhotoId, int> partners;
  for (const record::Correspondence& c : p.scan_to_frame) {
    ++partners[c.a];
    EXPECT_GT(c.cells.size(), 50u);
    EXPECT_EQ(c.mirrored, c.a == w.scans[1]);
  }
  for (int i : {0, 1, 3, 4}) EXPECT_GE(partners[w.scans[i]], 2);
  std::map<int, std::set<PhotoId>> linked;
  for (const record::Correspondence& c : p.frame_to_frame) {
    EXPECT_EQ(w.scene_of.at(c.a), w.scene_of.at(c.b));
    linked[w.scene_of.at(c.a)].insert({c.a, c.b});
  }
  for (int scene = 0; scene < 4; ++scene) EXPECT_EQ(linked[scene].size(), 4u);
}

TEST(Pairing, IsTheSameForAnyNumberOfWorkers) {
  const Wedding w = AWedding();
  SetWorkers(1);
  const Pairing one = w.Pair();
  SetWorkers(3);
  const Pairing three = w.Pair();
  SetWorkers(0);
  ASSERT_EQ(one.pairs.size(), three.pairs.size());
  for (std::size_t i = 0; i < one.pairs.size(); ++i) {
    EXPECT_EQ(one.pairs[i].frame, three.pairs[i].frame);
    EXPECT_EQ(one.pairs[i].confidence, three.pairs[i].confidence);
  }
  const auto same = [](const auto& x, const auto& y) {
    ASSERT_EQ(x.size(), y.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
      ASSERT_EQ(x[i].cells.size(), y[i].cells.size());
      for (std::size_t k = 0; k < x[i].cells.size(); ++k) {
        ASSERT_EQ(x[i].cells[k].bx, y[i].cells[k].bx);
        ASSERT_EQ(x[i].cells[k].a_rgb[1], y[i].cells[k].a_rgb[1]);
        ASSERT_EQ(x[i].cells[k].weight, y[i].cells[k].weight);
      }
    }
  };
  same(one.scan_to_frame, three.scan_to_frame);
  same(one.frame_to_frame, three.frame_to_frame);
}

TEST(Pairing, APersonsWordOutranks) {
  Wedding w = AWedding();
  w.compared = std::make_shared<Kept>();
  const Pairing before = w.Pair();
  const PhotoId refused = before.pairs[0].frame, wanted = before.pairs[4].frame;
  w.word.refused = {{w.scans[0], refused}};
  w.word.joined = {{w.scans[2], wanted}};
  w.word.light_starts = {before.lights[0].frames[3]};
  w.word.body_offset_s["body two"] = -990;
  const Pairing after = w.Pair();
  EXPECT_NE(after.pairs[0].frame, refused);
  for (const auto& a : after.pairs[0].alternatives) EXPECT_NE(a.frame, refused);
  EXPECT_TRUE(after.pairs[0].by_person);
  EXPECT_EQ(after.pairs[2].frame, wanted);
  EXPECT_EQ(after.pairs[2].confidence, 1);
  EXPECT_EQ(after.lights.size(), 3u);
  EXPECT_EQ(after.lights[0].frames.size(), 3u);
  for (const BodyClock& c : after.clocks)
    if (c.body == "body two") EXPECT_EQ(c.offset_s, -990);
  w.word = {};
  w.word.lights = {{before.lights[0].frames}};
  w.word.lights[0].insert(w.word.lights[0].end(), before.lights[1].frames.begin(),
                          before.lights[1].frames.end());
  EXPECT_EQ(w.Pair().lights.size(), 1u);
}

TEST(Pairing, SessionsThatLackOneSide) {
  Session only_frames;
  for (int i = 0; i < 4; ++i) only_frames.AddFrame(i / 2, 70 + i, 10.0 * i);
  const Pairing no_film = only_frames.Pair();
  EXPECT_TRUE(no_film.pairs.empty());
  ASSERT_EQ(no_film.lights.size(), 1u);
  EXPECT_EQ(no_film.lights[0].frames.size(), 4u);

  Session only_scans;
  only_scans.AddScan(1, 80);
  const Pairing no_frames = only_scans.Pair();
  ASSERT_EQ(no_frames.pairs.size(), 1u);
  EXPECT_EQ(no_frames.pairs[0].kind, PairKind::kNone);
  EXPECT_TRUE(no_frames.lights.empty());

  EXPECT_TRUE(Session().Pair().pairs.empty());
}

TEST(Pairing, TwoUnrelatedEventsGiveNoPairs) {
  Session s;
  for (int i = 0; i < 6; ++i) s.AddFrame(i, 90 + i, 100.0 * i);
  for (int i = 0; i < 4; ++i) s.AddScan(20 + i, 100 + i);
  for (const record::Pair& p : s.Pair().pairs) EXPECT_EQ(p.kind, PairKind::kNone);
}

// What is sure in the whole roll in its order stays right when the roll is shuffled, reversed or halved.
TEST(Pairing, TheOrderOfARollForcesNothing) {
  Wedding w = AWedding();
  w.compared = std::make_shared<Kept>();
  const Pairing whole = w.Pair();
  const std::vector<PhotoId> roll = w.scans;
  const std::vector<std::vector<PhotoId>> others = {{roll[4], roll[3], roll[2], roll[1], roll[0]},
                                                    {roll[2], roll[0], roll[4], roll[1], roll[3]},
                                                    {roll[0], roll[2], roll[4]}};
  for (const auto& order : others) {
    w.SetRoll(order);
    const Pairing p = w.Pair();
    ASSERT_EQ(p.pairs.size(), order.size());
    for (const record::Pair& pair : p.pairs) {
      const auto before = std::find_if(whole.pairs.begin(), whole.pairs.end(),
                                       [&](const record::Pair& x) { return x.scan == pair.scan; });
      EXPECT_EQ(pair.kind, before->kind);
      if (pair.kind == PairKind::kNone) continue;
      EXPECT_EQ(w.scene_of.at(pair.frame), w.scene_of.at(before->frame));
      if (before->confidence >= 0.9)
        EXPECT_GE(pair.confidence, 0.9) << "its place was seen in one light only";
    }
  }
}

TEST(Pairing, BlackAndWhiteScansPair) {
  Session s;
  std::map<PhotoId, int> scene_of;
  for (int scene = 0; scene < 4; ++scene)
    for (int k = 0; k < 2; ++k)
      scene_of[s.AddFrame(scene, static_cast<std::uint64_t>(4 * scene + k), 900.0 * scene + 6 * k)] = scene;
  for (int scene = 0; scene < 4; ++scene) {
    Dice dice(static_cast<std::uint64_t>(scene) + 31);
    Rendering r = AnotherRendering(dice);
    r.black_and_white = true;
    s.AddMeasuredScan(SeenAgain(Session::Scene(scene), s.Near(dice), r, 5));
  }
  const Pairing p = s.Pair();
  for (int i = 0; i < 4; ++i) {
    EXPECT_EQ(p.pairs[i].kind, PairKind::kMoment);
    EXPECT_EQ(scene_of.at(p.pairs[i].frame), i);
    EXPECT_TRUE(s.FactsOf(p.pairs[i].scan).measured.black_and_white);
  }
}

TEST(Pairing, StopsWhenAsked) {
  Session w;
  w.AddFrame(0, 1, 0);
  Cancel cancel;
  cancel.Request();
  SilentProgress quiet;
  const auto p = PairSession(w.MakeRequest(), quiet, cancel);
  ASSERT_FALSE(p.ok());
  EXPECT_EQ(p.error().code, ErrorCode::kCancelled);
}

TEST(Pairing, APictureThatCannotBeLoadedCostsOnlyItsCells) {
  const Wedding w = AWedding();
  Request r = w.MakeRequest();
  const PhotoId lost = w.scans[0];
  const auto load = r.load;
  r.load = [&](PhotoId id) -> Result<measure::Cached> {
    if (id == lost) return Error{ErrorCode::kNotFound, "gone", "", ""};
    return load(id);
  };
  SilentProgress quiet;
  const auto p = PairSession(r, quiet, Cancel());
  ASSERT_TRUE(p.ok());
  EXPECT_EQ(p->pairs[0].kind, PairKind::kMoment);
  std::set<PhotoId> with_cells;
  for (const auto& c : p->scan_to_frame) with_cells.insert(c.a);
  EXPECT_FALSE(with_cells.count(lost));
  EXPECT_TRUE(with_cells.count(w.scans[1]));
}

// Without any clock: people photographs as frames, two of them printed on film as scans.
TEST(Pairing, FindsPublicPhotographsWithoutMetadata) {
  const auto files = PicturesIn(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "people");
  if (files.size() < 4) GTEST_SKIP() << "the people photographs were not fetched";
  std::deque<record::Photo> photos;
  std::deque<measure::Cached> cached;
  Request request;
  const auto add = [&](const image::RgbF& pixels, record::Role role, int id) {
    measure::Cached c;
    c.analysis.pixels = pixels;
    c.features = measure::ExtractFeatures(c.analysis);
    cached.push_back(std::move(c));
    record::Photo p;
    p.id = PhotoId{id};
    p.role = role;
    p.path = std::to_string(id);
    p.width_px = pixels.width();
    p.height_px = pixels.height();
    p.roll = RollId{0};
    p.roll_position = id;
    photos.push_back(p);
    (role == record::Role::kScan ? request.scans : request.frames)
        .push_back({&photos.back(), &cached.back()});
  };
  for (std::size_t i = 0; i < files.size(); ++i) {
    const image::RgbF scene = Photograph(files[i]);
    add(scene, record::Role::kFrame, static_cast<int>(i));
    if (i != 1 && i != 3) continue;
    Dice dice(i);
    add(SeenAgain(scene, AnotherFraming(dice), AnotherRendering(dice), i), record::Role::kScan,
        100 + static_cast<int>(i));
  }
  request.load = [&](PhotoId id) -> Result<measure::Cached> {
    for (std::size_t k = 0; k < photos.size(); ++k)
      if (photos[k].id == id) return cached[k];
    return Error{ErrorCode::kNotFound, "gone", "", ""};
  };
  SilentProgress quiet;
  const auto p = PairSession(request, quiet, Cancel());
  ASSERT_TRUE(p.ok());
  ASSERT_EQ(p->pairs.size(), 2u);
  for (const record::Pair& pair : p->pairs) {
    EXPECT_EQ(pair.kind, PairKind::kMoment);
    EXPECT_EQ(pair.frame.value, pair.scan.value - 100);
  }
  EXPECT_EQ(p->lights.size(), 1u);
}

}  // namespace
}  // namespace samelight::pair
