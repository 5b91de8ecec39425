// What a frame is held to, and what it is told for: invented places, where the answer is known by
// construction.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "look/evaluate.h"
#include "solve/left_over.h"
#include "solve/mixed_light.h"
#include "solve/reasons.h"
#include "solve/scan_nudge.h"

namespace samelight::solve {
namespace {

using record::FlagKind;
using record::RegionKind;

record::Correction FilmLook() {
  record::Correction c;
  c.look = look::NeutralLook();
  for (record::LayerCurve& l : c.look.layer) l = {1.5, -2.2, 0, 0.28, 0.5};
  c.offset_log10 = {0.1, 0.05, 0.02};
  return c;
}

record::Photo Frame() {
  record::Photo frame;
  frame.id = {1};
  frame.role = record::Role::kFrame;
  frame.encoding = record::Encoding::kRaw;
  return frame;
}

struct Places {
  RegionKind region = RegionKind::kNeutral;
  int face = -1;
  Vec3 colour{0.18, 0.18, 0.18};
  int count = 30;
};

// Places of a frame and of its scan, which `printed` makes of each. `red`: what the scan shows of them is so
// much redder (linear).
void AddPlaces(const Places& p, const record::Correction& printed, record::Correspondence& to, double red = 1,
               double from_x = 0, double to_x = 1) {
  const look::Resolved resolved = look::Resolve(printed);
  for (int i = 0; i < p.count; ++i) {
    record::Cell cell;
    cell.region = p.region;
    cell.face = static_cast<std::int8_t>(p.face);
    cell.bx = static_cast<float>(from_x + (to_x - from_x) * (i + 0.5) / p.count);
    cell.by = 0.5f;
    const double level = 0.9 + 0.2 * i / p.count;
    Vec3 scan = look::Evaluate(resolved, {level * p.colour[0], level * p.colour[1], level * p.colour[2]});
    scan[0] *= red;
    for (int c = 0; c < 3; ++c) {
      cell.b_rgb[c] = static_cast<float>(level * p.colour[c]);
      cell.a_rgb[c] = static_cast<float>(scan[c]);
    }
    to.cells.push_back(cell);
  }
}

const Places kSkin{RegionKind::kSkin, -1, {0.30, 0.22, 0.16}};
const record::ScanNudge kNudge{{0.05, 0.08, 0.1}, 0.05, 0.2};

record::Correspondence NudgedScan() {
  record::Correction printed = FilmLook();
  Add(kNudge, printed);
  record::Correspondence matched;
  AddPlaces({}, printed, matched);
  AddPlaces(kSkin, printed, matched);
  return matched;
}

TEST(Aim, IsTheScanWithoutItsOwnNudge) {
  const record::Correspondence matched = NudgedScan();
  const auto left = MeasureLeftOver(matched, Frame(), -2.5, FilmLook(), kNudge);
  ASSERT_EQ(left.size(), 2u);
  for (const record::LeftOver& l : left) {
    EXPECT_GT(l.after, 4) << "the left-over is still told against the scan";
    EXPECT_NEAR(l.nudge, l.after, 0.1) << "and all of it is the scan's own";
    EXPECT_LT(l.off_aim, 0.1);
  }
  EXPECT_FALSE(ReasonOf(left, 2.5));
  // What is not known to be the scan's own is the frame's fault.
  const auto reason = ReasonOf(MeasureLeftOver(matched, Frame(), -2.5, FilmLook()), 2.5);
  ASSERT_TRUE(reason);
  EXPECT_EQ(reason->kind, FlagKind::kLeftOver);
  EXPECT_EQ(reason->text.find("left aside"), std::string::npos) << reason->text;
}

// A wrong pair, say, whose difference the fit took for a nudge.
TEST(Aim, WhatNoLabDoesIsNotLeftAside) {
  const record::ScanNudge wild{{0.25, 0.2, 0.3}, 0, 0};
  record::Correction printed = FilmLook();
  Add(wild, printed);
  record::Correspondence matched;
  AddPlaces({}, printed, matched);
  const auto left = MeasureLeftOver(matched, Frame(), -2.5, FilmLook(), wild);
  EXPECT_EQ(left.front().off_aim, left.front().after);
  EXPECT_TRUE(ReasonOf(left, 2.5));
}

TEST(Aim, AFaultBesideANudgeIsStillSeen) {
  record::Correction printed = FilmLook(), off = FilmLook();
  Add(kNudge, printed);
  off.offset_log10[0] += 0.06;
  record::Correspondence matched;
  AddPlaces({}, printed, matched);
  const auto left = MeasureLeftOver(matched, Frame(), -2.5, off, kNudge);
  const auto reason = ReasonOf(left, 2.5);
  ASSERT_TRUE(reason);
  EXPECT_EQ(reason->brief, "neutrals are more magenta");
  EXPECT_NE(reason->text.find("the scan's own nudge of"), std::string::npos) << reason->text;
}

TEST(Aim, FollowingLessOnPurposeIsNoFault) {
  record::Correspondence matched;
  AddPlaces({}, FilmLook(), matched);
  AddPlaces(kSkin, FilmLook(), matched);
  record::Correction less = FilmLook();
  less.follow = 0.3;
  less.follow_skin = 0.1;
  const auto left = MeasureLeftOver(matched, Frame(), -2.5, less);
  EXPECT_GT(left.front().after, 2.5);
  EXPECT_FALSE(ReasonOf(left, 2.5));
  // A wrong match is told however little is followed.
  record::Correction wrong = less;
  wrong.offset_log10[1] += 0.1;
  EXPECT_TRUE(ReasonOf(MeasureLeftOver(matched, Frame(), -2.5, wrong), 2.5));
}

TEST(Aim, ATouchMendsOrIsOnPurpose) {
  record::Correspondence matched;
  AddPlaces({}, FilmLook(), matched);
  record::Correction dark = FilmLook();
  dark.unify.exposure_log10 = -0.15;
  ASSERT_TRUE(ReasonOf(MeasureLeftOver(matched, Frame(), -2.5, dark), 2.5));
  dark.touch.exposure_ev = 0.15 / look::kLog10Of2;
  EXPECT_FALSE(ReasonOf(MeasureLeftOver(matched, Frame(), -2.5, dark), 2.5)) << "mended";
  record::Correction taste = FilmLook();
  taste.touch.exposure_ev = 1;
  const auto left = MeasureLeftOver(matched, Frame(), -2.5, taste);
  EXPECT_GT(left.front().after, 2.5);
  EXPECT_FALSE(ReasonOf(left, 2.5)) << "on purpose";
}

TEST(Reason, NamesTheFaceWhereThereAreSeveral) {
  record::Correspondence one, two;
  const Places first{RegionKind::kSkin, 0, kSkin.colour}, second{RegionKind::kSkin, 1, kSkin.colour};
  AddPlaces(first, FilmLook(), one, 0.8);
  AddPlaces(first, FilmLook(), two);
  AddPlaces(second, FilmLook(), two, 0.8);
  const auto alone = ReasonOf(MeasureLeftOver(one, Frame(), -2.5, FilmLook()), 2.5),
             of_two = ReasonOf(MeasureLeftOver(two, Frame(), -2.5, FilmLook()), 2.5);
  ASSERT_TRUE(alone && of_two);
  EXPECT_EQ(alone->text.find("face"), std::string::npos) << alone->text;
  EXPECT_NE(of_two->text.find("on face 2"), std::string::npos) << of_two->text;
  EXPECT_EQ(of_two->brief, "skin is redder");
}

TEST(MixedLight, IsSeenOnTheSubject) {
  const look::Resolved match = look::Resolve(FilmLook());
  const Places lit{RegionKind::kSkin, 0, {0.45, 0.33, 0.24}},
      shaded{RegionKind::kSkin, 0, {0.12, 0.09, 0.065}};
  record::Correspondence even, sides, faces, picture;
  AddPlaces(lit, FilmLook(), even);
  AddPlaces(shaded, FilmLook(), even);
  AddPlaces({RegionKind::kNeutral, -1, {0.2, 0.2, 0.2}, 60}, FilmLook(), even, 1, 0, 0.4);
  AddPlaces({RegionKind::kNeutral, -1, {0.2, 0.2, 0.2}, 60}, FilmLook(), even, 1.25, 0.6, 1);
  EXPECT_EQ(MixedLightOn(even, match), "") << "another lamp behind people is not on them";
  AddPlaces(lit, FilmLook(), sides);
  AddPlaces(shaded, FilmLook(), sides, 1.25);
  EXPECT_EQ(MixedLightOn(sides, match), "both sides of face 1");
  AddPlaces(lit, FilmLook(), faces);
  AddPlaces({RegionKind::kSkin, 1, lit.colour}, FilmLook(), faces, 1.25);
  EXPECT_EQ(MixedLightOn(faces, match), "faces 1 and 2");
  record::Correspondence clothes;
  AddPlaces(lit, FilmLook(), clothes, 1, 0.4, 0.6);
  AddPlaces({RegionKind::kWhiteCloth, -1, {0.5, 0.5, 0.5}, 40}, FilmLook(), clothes, 1, 0.2, 0.45);
  AddPlaces({RegionKind::kWhiteCloth, -1, {0.5, 0.5, 0.5}, 40}, FilmLook(), clothes, 1.25, 0.55, 0.8);
  EXPECT_EQ(MixedLightOn(clothes, match), "both sides of the clothes");
  AddPlaces({RegionKind::kNeutral, -1, {0.2, 0.2, 0.2}, 40}, FilmLook(), picture, 1, 0, 0.4);
  AddPlaces({RegionKind::kNeutral, -1, {0.2, 0.2, 0.2}, 40}, FilmLook(), picture, 1.25, 0.6, 1);
  EXPECT_EQ(MixedLightOn(picture, match), "both sides of the picture");
  EXPECT_EQ(MixedLightOn({}, match), "");
}

bool Has(const record::FrameSolution& f, FlagKind kind) {
  return std::any_of(f.flags.begin(), f.flags.end(),
                     [&](const record::Flag& flag) { return flag.kind == kind; });
}

record::Measured Skinned(const Vec3& colour) {
  record::Measured m;
  record::RegionStat skin;
  skin.kind = RegionKind::kSkin;
  skin.area = 0.05;
  skin.quantiles.fill(colour);
  m.regions = {skin};
  return m;
}

TEST(Rejudge, TellsWhatDependsOnTheTouchAndKeepsTheRest) {
  const record::Photo photo = Frame();
  record::Correspondence matched;
  AddPlaces({}, FilmLook(), matched);
  const record::Measured measured = Skinned(kSkin.colour);
  record::FrameSolution f;
  f.frame = photo.id;
  f.correction = FilmLook();
  f.correction.unify.exposure_log10 = -0.15;
  f.flags = {{FlagKind::kDoubtfulPair, "the pair with its scan is doubtful", ""},
             {FlagKind::kOther, "skin is odd", ""}};
  const Evidence evidence{&photo, &measured, &matched, 2.5};
  Rejudge(evidence, f);
  ASSERT_EQ(f.flags.size(), 3u);
  EXPECT_EQ(f.flags[0].kind, FlagKind::kLeftOver) << "the worst comes first";
  f.correction.touch.exposure_ev = 0.5;
  Rejudge(evidence, f);
  EXPECT_FALSE(Has(f, FlagKind::kLeftOver));
  EXPECT_EQ(f.flags.size(), 2u) << "words of an earlier version and what a touch does not change stay";
  f.correction.look = look::NeutralLook();
  f.correction.touch.exposure_ev = 4;
  Rejudge(evidence, f);
  EXPECT_TRUE(Has(f, FlagKind::kTouchClips));
  f.correction.touch.exposure_ev = 0;
  Rejudge({&photo, &measured, nullptr, 2.5}, f);  // also without a scan
  EXPECT_FALSE(Has(f, FlagKind::kTouchClips));
}

TEST(Rejudge, AScanThatIsKeptOutIsNoAim) {
  const record::Photo photo = Frame();
  record::Correspondence matched;
  AddPlaces({}, FilmLook(), matched, 0.7);
  record::FrameSolution f;
  f.correction = FilmLook();
  f.scan_in_look = false;
  Rejudge({&photo, nullptr, &matched, 2.5}, f);
  EXPECT_GT(f.left_over.front().after, 2.5);
  EXPECT_TRUE(f.flags.empty());
}

TEST(Outliers, ComeAndGoWithTheTouch) {
  std::vector<record::FrameSolution> frames(6);
  std::unordered_map<PhotoId, record::Measured> measured;
  for (int i = 0; i < 6; ++i) {
    frames[i].frame = {i};
    frames[i].light = {0};
    frames[i].correction = FilmLook();
    measured[{i}] = Skinned(kSkin.colour);
  }
  FlagOutliers(measured, frames);
  for (const record::FrameSolution& f : frames) EXPECT_TRUE(f.flags.empty());
  frames[2].correction.touch.warmth_mired = 80;
  FlagOutliers(measured, frames);
  FlagOutliers(measured, frames);
  for (const record::FrameSolution& f : frames) EXPECT_EQ(f.flags.size(), f.frame.value == 2 ? 1u : 0u);
  EXPECT_TRUE(Has(frames[2], FlagKind::kSkinApart));
  for (record::FrameSolution& f : frames) f.correction.touch.warmth_mired = 80;  // the whole light alike
  FlagOutliers(measured, frames);
  for (const record::FrameSolution& f : frames) EXPECT_TRUE(f.flags.empty());
}

TEST(Judge, TellsOfThePairTheLightAndTheFile) {
  Request request;
  record::Photo tiff = Frame();
  tiff.encoding = record::Encoding::kTiff;
  request.measured[tiff.id].clipped_high = 0.1;
  request.measured[tiff.id].clipped_low = 0.3;
  const record::Pair pair{{9}, tiff.id, record::PairKind::kLight, 0.5, false, {}};
  record::FrameSolution f;
  Judge(request, tiff, &pair, Film::kLikeRegions, f);
  for (const FlagKind kind : {FlagKind::kDoubtfulPair, FlagKind::kLightOnly, FlagKind::kLikeRegions})
    EXPECT_TRUE(Has(f, kind)) << record::Name(kind);
  EXPECT_FALSE(Has(f, FlagKind::kNoFilm));
  std::string told;
  for (const record::Flag& flag : f.flags) told += flag.text + "\n";
  EXPECT_NE(told.find("TIFF with clipped highlights"), std::string::npos) << told;
  EXPECT_NE(told.find("TIFF with clipped blacks"), std::string::npos) << told;
  EXPECT_EQ(told.find("JPEG"), std::string::npos) << told;
  record::FrameSolution other;
  record::Photo raw = Frame();
  Judge(request, raw, nullptr, Film::kNone, other);
  ASSERT_EQ(other.flags.size(), 1u) << "clipped raw highlights are the camera's own";
  EXPECT_EQ(other.flags[0].kind, FlagKind::kNoFilm);
}

}  // namespace
}  // namespace samelight::solve
