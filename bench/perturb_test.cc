#include "bench/perturb.h"

#include <gtest/gtest.h>

#include <set>

namespace samelight::bench {
namespace {

// Invented: three lights with two frames each; scans 100.. with `cells` matched cells to the first frame of
// their light.
solve::Request Session(int scans, int cells) {
  solve::Request r;
  for (int l = 0; l < 3; ++l) {
    record::Light light;
    light.id = LightId{l};
    light.mired = 150 + 80 * ((l + 1) % 3);  // 230, 310, 150
    for (int f = 0; f < 2; ++f) {
      record::Photo photo;
      photo.id = PhotoId{2 * l + f};
      light.frames.push_back(photo.id);
      r.photos.push_back(photo);
    }
    r.lights.push_back(light);
  }
  record::Roll roll;
  roll.id = RollId{0};
  for (int s = 0; s < scans; ++s) {
    record::Photo photo;
    photo.id = PhotoId{100 + s};
    photo.role = record::Role::kScan;
    r.photos.push_back(photo);
    roll.scans.push_back(photo.id);
    record::Pair pair;
    pair.scan = photo.id;
    pair.frame = PhotoId{2 * (s % 3)};
    pair.kind = record::PairKind::kMoment;
    r.pairs.push_back(pair);
    r.lights[s % 3].scans.push_back(photo.id);
    record::Correspondence c;
    c.a = photo.id;
    c.b = pair.frame;
    for (int k = 0; k < cells + s; ++k) {
      record::Cell cell;
      cell.a_rgb[0] = static_cast<float>(1000 * s + k);
      cell.b_rgb[0] = static_cast<float>(1000 * pair.frame.value + k);
      c.cells.push_back(cell);
    }
    r.scan_to_frame.push_back(c);
  }
  r.rolls.push_back(roll);
  return r;
}

TEST(ThinCells, KeepsAboutTheShareAndNeverNone) {
  const solve::Request thin = ThinCells(Session(10, 400), 0.05, 1);
  std::size_t all = 0;
  for (const auto& c : thin.scan_to_frame) all += c.cells.size();
  EXPECT_GT(all, 4000 * 0.05 * 0.7);
  EXPECT_LT(all, 4000 * 0.05 * 1.3);
  for (const auto& c : ThinCells(Session(10, 1), 1e-9, 1).scan_to_frame) EXPECT_EQ(c.cells.size(), 1u);
}

TEST(WrongCells, ExchangesTheShareAndKeepsTheColours) {
  const solve::Request before = Session(4, 100), after = WrongCells(before, 0.4, 1);
  for (std::size_t i = 0; i < before.scan_to_frame.size(); ++i) {
    const auto &a = before.scan_to_frame[i].cells, &b = after.scan_to_frame[i].cells;
    ASSERT_EQ(a.size(), b.size());
    std::size_t changed = 0;
    std::multiset<float> had, has;
    for (std::size_t k = 0; k < a.size(); ++k) {
      changed += a[k].a_rgb[0] != b[k].a_rgb[0];
      EXPECT_EQ(a[k].b_rgb[0], b[k].b_rgb[0]);
      had.insert(a[k].a_rgb[0]);
      has.insert(b[k].a_rgb[0]);
    }
    EXPECT_EQ(changed, static_cast<std::size_t>(0.4 * a.size() + 0.5));
    EXPECT_EQ(had, has);
  }
}

TEST(WrongPairs, MovesOneInTenToAnotherLight) {
  const solve::Request before = Session(18, 30), after = WrongPairs(before, 1);
  int moved = 0;
  for (std::size_t i = 0; i < before.pairs.size(); ++i) {
    if (before.pairs[i].frame == after.pairs[i].frame) continue;
    ++moved;
    EXPECT_NE(before.pairs[i].frame.value / 2, after.pairs[i].frame.value / 2);
    const PhotoId scan = after.pairs[i].scan;
    int matches = 0;
    for (const auto& c : after.scan_to_frame)
      if (c.a == scan) {
        ++matches;
        EXPECT_EQ(c.b, after.pairs[i].frame);
        for (const auto& cell : c.cells) {
          EXPECT_EQ(static_cast<int>(cell.a_rgb[0]) / 1000, scan.value - 100);
          EXPECT_EQ(static_cast<int>(cell.b_rgb[0]) / 1000, after.pairs[i].frame.value);
        }
      }
    EXPECT_EQ(matches, 1);
    for (const auto& light : after.lights)
      EXPECT_EQ(std::count(light.scans.begin(), light.scans.end(), scan),
                light.frames[0] == after.pairs[i].frame ? 1 : 0);
  }
  EXPECT_EQ(moved, 2);  // one in ten of eighteen, rounded
}

TEST(KeepScans, LeavesNoTraceOfTheOthers) {
  const solve::Request one = OneScan(Session(9, 20));
  ASSERT_EQ(one.pairs.size(), 1u);
  EXPECT_EQ(one.pairs[0].scan, PhotoId{108});  // it has the most cells
  EXPECT_EQ(one.scan_to_frame.size(), 1u);
  EXPECT_EQ(one.photos.size(), 7u);
  ASSERT_EQ(one.rolls.size(), 1u);
  EXPECT_EQ(one.rolls[0].scans.size(), 1u);
  EXPECT_TRUE(one.lights[0].scans.empty());
  const solve::Request none = KeepScans(Session(9, 20), {});
  EXPECT_TRUE(none.rolls.empty());
  EXPECT_TRUE(none.pairs.empty());
}

TEST(FullestScans, IsOneOfEachFilmedLight) {
  const solve::Request session = Session(9, 20);
  const std::vector<PhotoId> fullest = FullestScans(session);
  ASSERT_EQ(fullest.size(), 3u);
  for (std::size_t l = 0; l < 3; ++l)
    EXPECT_EQ(std::count(session.lights[l].scans.begin(), session.lights[l].scans.end(), fullest[l]), 1);
  EXPECT_EQ(fullest[2], PhotoId{108});
  EXPECT_TRUE(FullestScans(KeepScans(session, {})).empty());
}

TEST(TwoExtremeLights, KeepsTheWarmestAndTheCoolest) {
  const solve::Request two = TwoExtremeLights(Session(9, 20));
  EXPECT_EQ(two.pairs.size(), 6u);
  EXPECT_TRUE(two.lights[0].scans.empty());
  EXPECT_EQ(two.lights[1].scans.size(), 3u);
  EXPECT_EQ(two.lights[2].scans.size(), 3u);
}

}  // namespace
}  // namespace samelight::bench
