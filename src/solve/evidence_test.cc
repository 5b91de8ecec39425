// What enters a look and what does not, and what each scan tells: synthetic truth (testing.h).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "color/difference.h"
#include "look/evaluate.h"
#include "solve/left_over.h"
#include "solve/solve.h"
#include "solve/testing.h"

namespace samelight::solve {
namespace {

Solution Solve(const Request& request) {
  SilentProgress progress;
  Result<Solution> s = SolveSession(request, progress, Cancel());
  EXPECT_TRUE(s.ok());
  return std::move(s).value();
}

// The scans' cells, changed one by one.
void Change(Request& request, PhotoId scan, const std::function<void(record::Cell&, std::size_t)>& change) {
  for (record::Correspondence& c : request.scan_to_frame)
    if (c.a == scan)
      for (std::size_t i = 0; i < c.cells.size(); ++i) change(c.cells[i], i);
}

void Spoil(record::Cell& cell, std::size_t i) {
  cell.a_rgb[0] = 0.5f;
  cell.a_rgb[1] = static_cast<float>(0.1 + 0.003 * static_cast<double>(i));
  cell.a_rgb[2] = 0.05f;
}

void ExpectSame(const Solution& a, const Solution& b) {
  ASSERT_EQ(a.frames.size(), b.frames.size());
  for (std::size_t i = 0; i < a.frames.size(); ++i)
    EXPECT_TRUE(a.frames[i].correction == b.frames[i].correction) << "frame " << i;
}

// Mean of what is left of L* in the dark places of a scan's frame.
double DarkLeft(const Request& request, const Solution& s, PhotoId scan) {
  double sum = 0;
  int n = 0;
  for (const record::Correspondence& c : request.scan_to_frame) {
    if (c.a != scan) continue;
    const auto f = std::find_if(s.frames.begin(), s.frames.end(),
                                [&](const record::FrameSolution& x) { return x.frame == c.b; });
    const look::Resolved resolved = look::Resolve(f->correction);
    for (const record::Cell& cell : c.cells) {
      const double shown = LabOfDisplay({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]})[0];
      if (shown > 35) continue;
      sum += LabOfDisplay(look::Evaluate(resolved, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]}))[0] - shown;
      ++n;
    }
  }
  EXPECT_GT(n, 10);
  return sum / n;
}

const Options kSmall{.seed = 5, .lights = 2, .filmed = 2, .frames_per_light = 6, .scans_per_light = 3};
const PhotoId kScan{1000};

// One scan was printed with lifted blacks.
TEST(FollowScan, ReachesTheScansOwnBlacks) {
  Truth t = MakeTruth(kSmall);
  Change(t.request, kScan, [](record::Cell& cell, std::size_t) {
    for (float& v : cell.a_rgb) v = 0.975f * v + 0.02f;
  });
  const Solution mean = Solve(t.request);
  t.request.follow_scan = true;
  const Solution own = Solve(t.request);
  std::printf("dark places: %.1f L* off by the light's mean, %.1f by the scan\n",
              DarkLeft(t.request, mean, kScan), DarkLeft(t.request, own, kScan));
  EXPECT_LT(DarkLeft(t.request, mean, kScan), -3);
  EXPECT_LT(std::abs(DarkLeft(t.request, own, kScan)), 0.5 * std::abs(DarkLeft(t.request, mean, kScan)));
  // In numbers that a person reads.
  const record::FrameSolution &a = mean.frames.front(), &b = own.frames.front();
  ASSERT_EQ(a.scan, kScan);
  EXPECT_LT(b.shown.black_density, a.shown.black_density - 0.02);
  EXPECT_NE(a.nudge, record::ScanNudge{});
  EXPECT_EQ(b.nudge, record::ScanNudge{}) << "nothing is left between the correction and the scan";
  // The size of a nudge counts blacks and contrast too.
  const auto nudge = std::find_if(mean.nudges.begin(), mean.nudges.end(),
                                  [](const Solution::ScanNudge& n) { return n.scan == kScan; });
  for (const Solution::ScanNudge& n : mean.nudges)
    if (n.scan != kScan) {
      EXPECT_GT(nudge->de, n.de);
      EXPECT_GT(nudge->influence, 0);
    }
}

// Frames that follow their light's mean are not told for their scan's own nudge.
TEST(Judging, ANudgeIsNotTheFramesFault) {
  Options o = kSmall;
  o.nudge = 0.05;
  Truth t = MakeTruth(o);
  for (record::Correspondence& c : t.request.scan_to_frame)
    for (std::size_t i = 0; i < c.cells.size(); ++i)
      c.cells[i].region = i % 2 == 0 ? record::RegionKind::kNeutral : record::RegionKind::kDarkCloth;
  const Solution s = Solve(t.request);
  int beyond = 0;
  for (const record::FrameSolution& f : s.frames) {
    if (!f.scan.valid()) continue;
    for (const record::LeftOver& l : f.left_over) {
      beyond += l.after > t.request.tolerance ? 1 : 0;
      EXPECT_LE(l.off_aim, t.request.tolerance);
    }
    EXPECT_TRUE(f.flags.empty()) << f.flags.front().text;
  }
  EXPECT_GT(beyond, 0) << "nudges of this size are seen against the scans";
  ASSERT_EQ(s.rolls.size(), 1u);
  EXPECT_EQ(s.rolls[0].scans, 6);
  EXPECT_GT(s.rolls[0].de, 2);
}

TEST(Judging, ALightSeenByLikeRegionsOnlyIsTold) {
  Options o;
  o.like_regions = true;
  const Solution s = Solve(MakeTruth(o).request);
  for (const record::FrameSolution& f : s.frames)
    EXPECT_EQ(
        std::any_of(f.flags.begin(), f.flags.end(),
                    [](const record::Flag& flag) { return flag.kind == record::FlagKind::kLikeRegions; }),
        f.light.value == o.filmed - 1);
}

TEST(InLook, BarredGreyAndExpiredScansTellNothing) {
  const Truth t = MakeTruth(kSmall);
  Truth spoilt = t;
  Change(spoilt.request, kScan, Spoil);
  const auto keep_out = [](Request& request, int how) {
    if (how == 0) request.barred = {kScan};
    if (how == 1) request.measured[kScan].black_and_white = true;
    if (how < 2) return;
    std::erase(request.rolls[0].scans, kScan);
    request.rolls.push_back({});
    request.rolls[1].id = {1};
    request.rolls[1].scans = {kScan};
    (how == 2 ? request.rolls[1].black_and_white : request.rolls[1].expired) = true;
  };
  for (const int how : {0, 1, 2, 3}) {
    Request clean = t.request, bad = spoilt.request;
    keep_out(clean, how);
    keep_out(bad, how);
    const Solution a = Solve(clean), b = Solve(bad);
    ExpectSame(a, b);
    ASSERT_EQ(b.frames.front().scan, kScan) << "it is paired all the same";
    EXPECT_FALSE(b.frames.front().scan_in_look);
    EXPECT_TRUE(b.frames.front().flags.empty()) << "and is no aim";
  }
  const Solution a = Solve(t.request), b = Solve(spoilt.request);
  EXPECT_FALSE(a.frames.front().correction == b.frames.front().correction);
}

TEST(InLook, ClippedPlacesTellNothing) {
  Truth t = MakeTruth(kSmall), other = t;
  const auto clip = [](float red) {
    return [red](record::Cell& cell, std::size_t i) {
      if (i % 5 != 0) return;
      cell.a_rgb[0] = red;
      cell.a_rgb[1] = 0.99f;
    };
  };
  Change(t.request, kScan, clip(0.2f));
  Change(other.request, kScan, clip(0.95f));
  ExpectSame(Solve(t.request), Solve(other.request));
}

// Skin printed warmer than everything else: the more it weighs, the nearer it comes.
TEST(InLook, SkinHasAWeightOfItsOwn) {
  Truth t = MakeTruth(kSmall);
  for (record::Correspondence& c : t.request.scan_to_frame)
    for (std::size_t i = 0; i < c.cells.size(); i += 6) {
      c.cells[i].region = record::RegionKind::kSkin;
      c.cells[i].a_rgb[2] *= 0.85f;
    }
  const auto left = [&](double weight) {
    t.request.skin_weight = weight;
    double sum = 0;
    int n = 0;
    for (const record::FrameSolution& f : Solve(t.request).frames)
      for (const record::LeftOver& l : f.left_over)
        if (l.region == record::RegionKind::kSkin) {
          sum += l.after;
          ++n;
        }
    EXPECT_GT(n, 3);
    return sum / n;
  };
  EXPECT_LT(left(30), left(0.1) - 0.5);
}

TEST(InLook, ALightWithoutAPhotographIsNoTrouble) {
  Truth t = MakeTruth(kSmall);
  const Solution before = Solve(t.request);
  t.request.lights.push_back({});
  t.request.lights.back().id = {77};
  const Solution after = Solve(t.request);
  ASSERT_EQ(after.frames.size(), before.frames.size());
  for (std::size_t i = 0; i < after.frames.size(); ++i)
    for (int c = 0; c < 3; ++c)
      EXPECT_NEAR(after.frames[i].correction.offset_log10[c], before.frames[i].correction.offset_log10[c],
                  0.01);
}

// A camera's own rendering (invented: a shoulder and more slope in every channel).
void Render(float v[3]) {
  for (int c = 0; c < 3; ++c) {
    const double x = std::max(1e-5, static_cast<double>(v[c]));
    v[c] = static_cast<float>(std::pow(1.6 * x / (1 + 0.6 * x), 1.25));
  }
}

// Every other frame is a camera JPEG: its inverse tone is learned from matched places with raw frames, and
// the film reaches it as it reaches them.
TEST(CameraJpeg, IsBroughtToItsRawSiblings) {
  Truth t = MakeTruth({.seed = 6, .lights = 2, .filmed = 2, .frames_per_light = 8, .scans_per_light = 3});
  const auto is_jpeg = [](PhotoId id) { return id.value < 1000 && id.value % 2 == 1; };
  for (record::Photo& p : t.request.photos)
    if (is_jpeg(p.id)) p.encoding = record::Encoding::kJpeg;
  for (auto* all : {&t.request.frame_to_frame, &t.request.scan_to_frame})
    for (record::Correspondence& c : *all)
      for (record::Cell& cell : c.cells) {
        if (is_jpeg(c.a)) Render(cell.a_rgb);
        if (is_jpeg(c.b)) Render(cell.b_rgb);
      }
  const Solution s = Solve(t.request);
  double sum = 0;
  int n = 0;
  for (const record::FrameSolution& f : s.frames) {
    if (!is_jpeg(f.frame)) continue;
    EXPECT_TRUE(f.correction.unify.display_referred);
    EXPECT_FALSE(f.correction.unify.tone_in.empty());
    const look::Resolved resolved = look::Resolve(f.correction);
    const record::Photo& p = *std::find_if(t.request.photos.begin(), t.request.photos.end(),
                                           [&](const record::Photo& q) { return q.id == f.frame; });
    const Mat3& camera = p.raw.rec2020_from_camera;
    const Vec3 gain{p.raw.as_shot[0] / 2.0, 1, p.raw.as_shot[2] / 1.5};
    for (const Vec3& x : t.scene.at(f.frame)) {
      const Vec3 y = Mul(camera, Mul(Diagonal(gain), Mul(Inverse(camera), x)));
      float v[3];
      for (int c = 0; c < 3; ++c) v[c] = static_cast<float>(y[c] * std::pow(10.0, t.exposure.at(f.frame)));
      Render(v);
      sum += color::Ciede2000(LabOfDisplay(look::Evaluate(resolved, {v[0], v[1], v[2]})),
                              LabOfDisplay(InventedFilm(x, t.printer.at(f.frame))));
      ++n;
    }
  }
  std::printf("camera JPEGs: %.2f\n", sum / n);
  EXPECT_LT(sum / n, 3.5);
}

// Two rolls of unlike film in two lights.
TEST(TwoRolls, EachHasItsOwnLook) {
  Truth t = MakeTruth(kSmall);
  t.request.rolls.push_back({});
  t.request.rolls[1].id = {1};
  t.request.rolls[1].name = "roll B";
  for (int i = 0; i < 3; ++i) {
    const PhotoId scan{1010 + i};  // of the second light
    std::erase(t.request.rolls[0].scans, scan);
    t.request.rolls[1].scans.push_back(scan);
    Change(t.request, scan, [](record::Cell& cell, std::size_t) {  // softer
      for (float& v : cell.a_rgb) v = 0.2f * std::pow(v / 0.2f, 0.7f);
    });
  }
  const Solution s = Solve(t.request);
  const record::FrameSolution &hard = s.frames.front(), &soft = s.frames.back();
  EXPECT_EQ(hard.look, "roll A");
  EXPECT_EQ(soft.look, "roll B");
  EXPECT_LT(soft.shown.gamma, hard.shown.gamma - 0.15);
  ASSERT_EQ(s.rolls.size(), 2u);
  EXPECT_EQ(s.rolls[1].scans, 3);
}

// The only scan of a light says all that is known of it; of three, each could be missed.
TEST(Influence, TheOnlyScanOfALightHasMost) {
  Truth t = MakeTruth(kSmall);
  for (const PhotoId scan : {PhotoId{1011}, PhotoId{1012}}) {
    std::erase_if(t.request.pairs, [&](const record::Pair& p) { return p.scan == scan; });
    std::erase_if(t.request.scan_to_frame, [&](const record::Correspondence& c) { return c.a == scan; });
  }
  const Solution s = Solve(t.request);
  ASSERT_EQ(s.nudges.size(), 4u);
  const auto most = std::max_element(s.nudges.begin(), s.nudges.end(),
                                     [](const auto& a, const auto& b) { return a.influence < b.influence; });
  EXPECT_EQ(most->scan, PhotoId{1010});
  for (const Solution::ScanNudge& n : s.nudges) EXPECT_GT(n.influence, 0);
  EXPECT_TRUE(std::any_of(s.notes.begin(), s.notes.end(), [](const std::string& note) {
    return note.find("Without any one scan") != std::string::npos;
  }));
}

// Synthetic truth: the last two frames of the first light are another body's, tied to each other only, and
// film saw the light beside the first body.
TEST(Judge, TellsOfABodyThatNothingTiesToTheOneBesideFilm) {
  for (const bool lamp : {false, true})
    for (const bool tied : {false, true}) {
      Truth t = MakeTruth({.seed = 81, .frames_per_light = 8});
      const std::vector<PhotoId> frames = t.request.lights[0].frames;
      const auto other = [&](PhotoId id) { return id == frames[6] || id == frames[7]; };
      for (record::Photo& p : t.request.photos) {
        if (p.role != record::Role::kFrame) continue;
        // What the camera would see of daylight: as now, or as by a lamp of strong colour.
        for (int c = 0; c < 3; ++c) p.raw.daylight[c] = p.raw.as_shot[c];
        if (!lamp) continue;
        p.raw.daylight[0] *= 2.5;
        p.raw.daylight[2] *= 0.3;
      }
      for (record::Photo& p : t.request.photos)
        if (other(p.id)) p.capture.body = "another body";
      if (!tied)
        std::erase_if(t.request.frame_to_frame,
                      [&](const record::Correspondence& c) { return other(c.a) != other(c.b); });
      int told = 0, told_of_others = 0;
      for (const record::FrameSolution& f : Solve(t.request).frames)
        for (const record::Flag& flag : f.flags)
          if (flag.kind == record::FlagKind::kUnsure) ++(other(f.frame) ? told : told_of_others);
      EXPECT_EQ(told, lamp && !tied ? 2 : 0) << lamp << tied;
      EXPECT_EQ(told_of_others, 0);
    }
}

}  // namespace
}  // namespace samelight::solve
