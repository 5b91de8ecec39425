// Invented data only: what goes in must come out, whatever happens to the process in between.
#include "session/session.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <fstream>
#include <thread>

#include "session/pack.h"

namespace samelight::session {
namespace {

namespace fs = std::filesystem;

class SessionTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "samelight-session-XXXXXX").string();
    ASSERT_NE(::mkdtemp(pattern.data()), nullptr);
    folder_ = pattern;
    file_ = folder_ / "wedding.samelight";
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::unique_ptr<Session> Make() {
    Result<std::unique_ptr<Session>> session = Session::Open(file_, Access::kCreate);
    EXPECT_TRUE(session.ok()) << session.error().Text();
    return std::move(session).value();
  }
  std::unique_ptr<Session> Again(Access access = Access::kWrite) {
    Result<std::unique_ptr<Session>> session = Session::Open(file_, access);
    EXPECT_TRUE(session.ok()) << session.error().Text();
    return session.ok() ? std::move(session).value() : nullptr;
  }
  static void Say(Session& session, const std::vector<Word>& words, const std::string& what) {
    Result<Change> change = session.Begin();
    ASSERT_TRUE(change.ok());
    ASSERT_TRUE(change->Say(words, what).ok());
    ASSERT_TRUE(change->Commit().ok());
  }

  fs::path folder_, file_;
};

record::Photo SomePhoto(const std::string& path) {
  record::Photo p;
  p.role = record::Role::kScan;
  p.encoding = record::Encoding::kTiff;
  p.path = path;
  p.hash = "00112233445566778899aabbccddeeff";
  p.bytes = 1ull << 33;
  p.modified_us = 1700000000123456;
  p.width_px = 6000;
  p.height_px = 4000;
  p.capture.time_us = -5;
  p.capture.has_zone = true;
  p.capture.exposure_time_s = 1.0 / 3.0;
  p.capture.aperture = 1.4;
  p.capture.iso = 12800;
  p.capture.focal_mm = 85;
  p.capture.focus_m = 2.5;
  p.capture.flash = true;
  p.capture.make = "M";
  p.capture.body = "body Ä";
  p.capture.serial = "12";
  p.capture.lens = "lens";
  p.capture.film_scanner = true;
  p.capture.rating = -1;
  p.capture.sequence = 7;
  p.capture.creator = "who";
  p.capture.copyright = "(c)";
  p.crop = record::Crop{0.1, 0.2, 0.8, 0.9, -1.5};
  p.raw.as_shot = {2.1, 1, 1.5};
  p.raw.daylight = {2.2, 1, 1.4};
  p.raw.rec2020_from_camera[1][2] = 0.123456789012345678;
  p.raw.rec2020_unadapted[2][0] = -0.987654321098765432;
  p.profile_assumed = true;
  p.profile_name = "some profile";
  p.roll.value = 3;
  p.roll_position = 11;
  return p;
}

record::FrameSolution SomeSolution(PhotoId frame) {
  record::FrameSolution s;
  s.frame = frame;
  s.light.value = 4;
  s.scan.value = 9;
  s.look = "a look";
  s.correction.frame = frame;
  s.correction.unify.display_referred = true;
  s.correction.unify.tone_in = {-3, -2.0 / 3, 0};
  s.correction.unify.tone_out = {-4, -1, 0.25};
  s.correction.unify.matrix[2][0] = M_PI;
  s.correction.unify.exposure_log10 = 0.1 + 0.2;
  s.correction.look.m1[0][1] = 1e-300;
  s.correction.look.layer[2].shoulder = std::nextafter(0.15, 1.0);
  s.correction.look.m2[1][0] = -0.05;
  s.correction.look.interimage[2][1] = -0.15;
  s.correction.look.bumps[5] = {3.5, -0.1, 2};
  s.correction.offset_log10 = {0.01, -0.02, 0.03};
  s.correction.follow = 0.6;
  s.correction.follow_skin = 0.4;
  s.correction.follow_sky = 0.25;
  s.correction.touch = {1, 2, 3, 4, 5, 6, 7, 8};
  s.correction.touch.hues[5].lightness = 0.7;
  s.correction.touch.acutance = 0.3;
  s.shown = {8, 7, 6, 5, 4, 3, 2, 1};
  s.left_over = {{record::RegionKind::kSkin,
                  1,
                  9.5,
                  1.25,
                  {60, 20, 20},
                  {61, 19, 21},
                  42,
                  record::Side::kWhole,
                  0.75,
                  0.5,
                  {60.5, 20, 20},
                  {61, 19, 21}}};
  s.uncertainty = {{0.1, 5, 1, 0.2}, 0.5, 0.75, std::numeric_limits<double>::quiet_NaN()};
  s.flags = {{record::FlagKind::kDoubtfulPair, "pair doubtful", "pair"}, {record::FlagKind::kOther, "", ""}};
  s.scan_in_look = false;
  s.nudge = {{0.01, -0.02, 0.005}, 0.03, -0.04};
  return s;
}

TEST_F(SessionTest, PhotosComeBackWhole) {
  const record::Photo in = SomePhoto("film/roll 1/a.tif");
  record::Photo plain;
  plain.path = "../digital/b.jpg";
  {
    auto session = Make();
    Result<Change> change = session->Begin();
    ASSERT_TRUE(change.ok());
    record::Photo copy = in;
    ASSERT_TRUE(change->Put(copy).ok());
    EXPECT_TRUE(copy.id.valid());
    ASSERT_TRUE(change->Put(plain).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  auto session = Again(Access::kRead);
  Result<std::vector<record::Photo>> photos = session->Photos();
  ASSERT_TRUE(photos.ok()) << photos.error().Text();
  ASSERT_EQ(photos->size(), 2u);
  const record::Photo& out = photos->front();
  EXPECT_EQ(out.role, in.role);
  EXPECT_EQ(out.encoding, in.encoding);
  EXPECT_EQ(out.path, in.path);
  EXPECT_EQ(out.hash, in.hash);
  EXPECT_EQ(out.bytes, in.bytes);
  EXPECT_EQ(out.modified_us, in.modified_us);
  EXPECT_EQ(out.width_px, in.width_px);
  EXPECT_EQ(out.height_px, in.height_px);
  EXPECT_EQ(out.roll, in.roll);
  EXPECT_EQ(out.roll_position, in.roll_position);
  EXPECT_EQ(out.capture.time_us, in.capture.time_us);
  EXPECT_EQ(out.capture.has_zone, in.capture.has_zone);
  EXPECT_EQ(out.capture.exposure_time_s, in.capture.exposure_time_s);
  EXPECT_EQ(out.capture.aperture, in.capture.aperture);
  EXPECT_EQ(out.capture.iso, in.capture.iso);
  EXPECT_EQ(out.capture.focal_mm, in.capture.focal_mm);
  EXPECT_EQ(out.capture.focus_m, in.capture.focus_m);
  EXPECT_EQ(out.capture.flash, in.capture.flash);
  EXPECT_EQ(out.capture.make, in.capture.make);
  EXPECT_EQ(out.capture.body, in.capture.body);
  EXPECT_EQ(out.capture.serial, in.capture.serial);
  EXPECT_EQ(out.capture.lens, in.capture.lens);
  EXPECT_EQ(out.capture.film_scanner, in.capture.film_scanner);
  EXPECT_EQ(out.capture.rating, in.capture.rating);
  EXPECT_EQ(out.capture.sequence, in.capture.sequence);
  EXPECT_EQ(out.capture.creator, in.capture.creator);
  EXPECT_EQ(out.capture.copyright, in.capture.copyright);
  ASSERT_TRUE(out.crop.has_value());
  EXPECT_EQ(out.crop->angle_deg, -1.5);
  EXPECT_EQ(out.crop->bottom, 0.9);
  EXPECT_EQ(out.raw.as_shot, in.raw.as_shot);
  EXPECT_EQ(out.raw.daylight, in.raw.daylight);
  EXPECT_EQ(out.raw.rec2020_from_camera, in.raw.rec2020_from_camera);
  EXPECT_EQ(out.raw.rec2020_unadapted, in.raw.rec2020_unadapted);
  EXPECT_EQ(out.profile_assumed, in.profile_assumed);
  EXPECT_EQ(out.profile_name, in.profile_name);
  EXPECT_FALSE(photos->back().crop.has_value());
  EXPECT_FALSE(photos->back().capture.time_us.has_value());
  EXPECT_EQ(photos->back().role, record::Role::kFrame);
}

TEST_F(SessionTest, SolutionsComeBackBitForBit) {
  const record::FrameSolution in = SomeSolution(PhotoId{17});
  {
    auto session = Make();
    Result<Change> change = session->Begin();
    ASSERT_TRUE(change.ok());
    ASSERT_TRUE(change
                    ->ReplaceMatch({{in, SomeSolution(PhotoId{2})},
                                    {{PhotoId{9}, 2.5, 0.5}},
                                    {{RollId{4}, 12, 1.75}},
                                    {"a note"}})
                    .ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  auto session = Again(Access::kRead);
  Result<MatchResult> match = session->Match();
  ASSERT_TRUE(match.ok());
  ASSERT_EQ(match->frames.size(), 2u);
  EXPECT_EQ(match->frames[1].frame.value, 2);
  ASSERT_EQ(match->nudges.size(), 1u);
  EXPECT_EQ(match->nudges[0].de, 2.5);
  EXPECT_EQ(match->nudges[0].influence, 0.5);
  ASSERT_EQ(match->rolls.size(), 1u);
  EXPECT_EQ(match->rolls[0].scans, 12);
  EXPECT_EQ(match->rolls[0].de, 1.75);
  EXPECT_THAT(match->notes, testing::ElementsAre("a note"));
  const record::FrameSolution& out = match->frames[0];
  EXPECT_EQ(Pack(out), Pack(in));  // all doubles, the NaN too
  EXPECT_EQ(out.frame, in.frame);
  EXPECT_EQ(out.light, in.light);
  EXPECT_EQ(out.scan, in.scan);
  EXPECT_EQ(out.look, in.look);
  EXPECT_EQ(out.correction.unify.tone_in, in.correction.unify.tone_in);
  EXPECT_EQ(out.correction.unify.tone_out, in.correction.unify.tone_out);
  EXPECT_EQ(out.correction.unify.matrix, in.correction.unify.matrix);
  EXPECT_EQ(out.correction.unify.exposure_log10, in.correction.unify.exposure_log10);
  EXPECT_EQ(out.correction.look.m1, in.correction.look.m1);
  EXPECT_EQ(out.correction.look.layer[2].shoulder, in.correction.look.layer[2].shoulder);
  EXPECT_EQ(out.correction.look.m2, in.correction.look.m2);
  EXPECT_EQ(out.correction.look.interimage, in.correction.look.interimage);
  EXPECT_EQ(out.correction.look.bumps[5].hue_deg, 3.5);
  EXPECT_EQ(out.correction.offset_log10, in.correction.offset_log10);
  EXPECT_EQ(out.correction.follow, 0.6);
  EXPECT_EQ(out.correction.follow_skin, 0.4);
  EXPECT_EQ(out.correction.touch.chroma, 8);
  EXPECT_EQ(out.shown.exposure_ev, 8);
  ASSERT_EQ(out.left_over.size(), 1u);
  EXPECT_EQ(out.left_over[0].lab_after, in.left_over[0].lab_after);
  EXPECT_EQ(out.left_over[0].off_aim, in.left_over[0].off_aim);
  EXPECT_EQ(out.left_over[0].lab_aim, in.left_over[0].lab_aim);
  EXPECT_EQ(out.nudge, in.nudge);
  EXPECT_FALSE(out.scan_in_look);
  EXPECT_TRUE(std::isnan(out.uncertainty.neutral));
  EXPECT_EQ(out.flags, in.flags);
}

TEST_F(SessionTest, PairsMeasuredRollsDeliveriesAndProblemsComeBack) {
  record::Measured measured;
  measured.faces = {{0.1, 0.2, 0.3, 0.4, 0.9}};
  measured.regions.resize(2);
  measured.regions[1].kind = record::RegionKind::kSky;
  measured.regions[1].quantiles[4] = {1, 2, 3};
  measured.light.mired = 180;
  measured.inner_right = 0.97;
  measured.note = "burnt";
  PairResult pairs;
  pairs.lights = {{LightId{1}, "mill", {PhotoId{5}, PhotoId{6}}, {PhotoId{1}}, 190, 0.002},
                  {LightId{2}, "hall"}};
  pairs.lights[1].narrow_band = true;
  pairs.notes = {{PhotoId{6}, "soft"}, {PhotoId{5}, "the sharpest of 2"}};
  pairs.pairs = {{PhotoId{1},
                  PhotoId{5},
                  record::PairKind::kMoment,
                  0.9,
                  true,
                  {{PhotoId{6}, record::PairKind::kLight, 0.05}, {PhotoId{}, record::PairKind::kNone, 0.01}}},
                 {PhotoId{2}, PhotoId{}, record::PairKind::kNone, 0.7}};
  pairs.clocks = {{"body B", -3611.5, 0.8}};
  record::Correspondence matches{PhotoId{1}, PhotoId{5}, 33, true};
  matches.b_from_a[2] = 0.125f;
  matches.cells.resize(3);
  matches.cells[2] = {0.1f, 0.2f, 0.3f, 0.4f, {1, 2, 3}, {4, 5, 6}, 0.5f, record::RegionKind::kSkin, 2};
  pairs.scan_to_frame = {matches};
  pairs.frame_to_frame = {{PhotoId{5}, PhotoId{6}, 12}, {PhotoId{6}, PhotoId{5}, 13}};
  record::Roll roll{RollId{}, "roll 1", "stock x", "lab y", true, -1.5};
  {
    auto session = Make();
    Result<Change> change = session->Begin();
    ASSERT_TRUE(change.ok());
    ASSERT_TRUE(change->Put(roll).ok());
    for (const int place : {1, 0}) {
      record::Photo scan;
      scan.path = "film/" + std::to_string(place);
      scan.role = record::Role::kScan;
      scan.roll = roll.id;
      scan.roll_position = place;
      ASSERT_TRUE(change->Put(scan).ok());
    }
    ASSERT_TRUE(change->PutMeasured(PhotoId{5}, {"abc", measured}).ok());
    ASSERT_TRUE(change->ReplacePairs(pairs).ok());
    ASSERT_TRUE(change->Put(Delivery{"out/a.jpg", PhotoId{5}, "default", "digest", false}).ok());
    ASSERT_TRUE(change->Put(Delivery{"out/a.jpg", PhotoId{5}, "default", "digest", true}).ok());
    ASSERT_TRUE(
        change
            ->ReplaceProblems(
                Stage::kMeasure,
                {{Stage::kMeasure, "set aside", {ErrorCode::kDamaged, "ends early", "x.jpg", "copy it"}}})
            .ok());
    ASSERT_TRUE(change->SetMadeFrom(Stage::kPair, "of this").ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  auto session = Again(Access::kRead);
  auto all = session->Measured();
  ASSERT_TRUE(all.ok());
  EXPECT_EQ(all->at(PhotoId{5}).hash, "abc");
  EXPECT_EQ(Pack(all->at(PhotoId{5}).measured), Pack(measured));
  EXPECT_EQ(all->at(PhotoId{5}).measured.regions[1].quantiles[4], (Vec3{1, 2, 3}));
  EXPECT_EQ(all->at(PhotoId{5}).measured.note, "burnt");

  auto out = session->Pairs();
  ASSERT_TRUE(out.ok());
  ASSERT_EQ(out->lights.size(), 2u);
  EXPECT_FALSE(out->lights[0].narrow_band);
  EXPECT_TRUE(out->lights[1].narrow_band);
  ASSERT_EQ(out->notes.size(), 2u);
  EXPECT_EQ(out->notes[0].photo, PhotoId{6});
  EXPECT_EQ(out->notes[1].text, "the sharpest of 2");
  EXPECT_EQ(out->lights[0].frames, pairs.lights[0].frames);
  EXPECT_EQ(out->lights[0].scans, pairs.lights[0].scans);
  EXPECT_EQ(out->lights[0].mired, 190);
  EXPECT_EQ(out->lights[1].name, "hall");
  ASSERT_EQ(out->pairs.size(), 2u);
  EXPECT_TRUE(out->pairs[0].by_person);
  EXPECT_EQ(out->pairs[0].confidence, 0.9);
  ASSERT_EQ(out->pairs[0].alternatives.size(), 2u);
  EXPECT_EQ(out->pairs[0].alternatives[0].kind, record::PairKind::kLight);
  EXPECT_EQ(out->pairs[1].kind, record::PairKind::kNone);
  ASSERT_EQ(out->clocks.size(), 1u);
  EXPECT_EQ(out->clocks[0].offset_s, -3611.5);
  ASSERT_EQ(out->scan_to_frame.size(), 1u);
  EXPECT_EQ(Pack(out->scan_to_frame[0]), Pack(matches));
  EXPECT_EQ(out->scan_to_frame[0].cells[2].b_rgb[1], 5);
  EXPECT_TRUE(out->scan_to_frame[0].mirrored);
  ASSERT_EQ(out->frame_to_frame.size(), 2u);
  EXPECT_EQ(out->frame_to_frame[1].inliers, 13);
  EXPECT_TRUE(session->PairsWithoutMatches()->scan_to_frame.empty());

  auto rolls = session->Rolls();
  ASSERT_TRUE(rolls.ok());
  ASSERT_EQ(rolls->size(), 1u);
  EXPECT_EQ(rolls->front().stock, "stock x");
  EXPECT_TRUE(rolls->front().black_and_white);
  EXPECT_EQ(rolls->front().push_ev, -1.5);
  EXPECT_THAT(rolls->front().scans, testing::ElementsAre(PhotoId{2}, PhotoId{1}));

  auto deliveries = session->Deliveries();
  ASSERT_TRUE(deliveries.ok());
  ASSERT_EQ(deliveries->size(), 1u);
  EXPECT_TRUE(deliveries->front().done);
  auto problems = session->Problems();
  ASSERT_TRUE(problems.ok());
  ASSERT_EQ(problems->size(), 1u);
  EXPECT_EQ(problems->front().stage, Stage::kMeasure);
  EXPECT_EQ(problems->front().what, "set aside");
  EXPECT_EQ(problems->front().error.code, ErrorCode::kDamaged);
  EXPECT_EQ(problems->front().error.what, "ends early");
  EXPECT_EQ(problems->front().error.file, "x.jpg");
  EXPECT_EQ(problems->front().error.todo, "copy it");
  EXPECT_EQ(*session->MadeFrom(Stage::kPair), "of this");
  EXPECT_EQ(*session->MadeFrom(Stage::kMatch), "");
}

record::Order SomeOrder() {
  record::Order order;
  order.name = "web";
  order.pictures = record::Pictures::kBoth;
  order.format = record::FileFormat::kPng16;
  order.size.long_side_px = 2048;
  order.names = {record::NamePart::kLight, record::NamePart::kNumber, record::NamePart::kLabel};
  order.label = "the mill";
  order.copyright = "©";
  return order;
}

TEST_F(SessionTest, EveryKindOfWordComesBack) {
  const std::vector<Word> in = {Join{PhotoId{1}, PhotoId{2}},
                                Refuse{PhotoId{3}, PhotoId{4}},
                                Bar{PhotoId{5}, true},
                                RollFact{RollId{6}, "stock", "x"},
                                LightStart{PhotoId{7}},
                                LightTogether{{PhotoId{8}, PhotoId{9}}},
                                LightName{PhotoId{10}, "the mill"},
                                ClockOffset{"body B", -3600},
                                Follow{{PhotoId{11}}, true, 60},
                                Touch{PhotoId{12}, {1, 2, 3, 4, 5, 6, 7, 8}},
                                Set{"tolerance", 3},
                                Settle{PhotoId{13}, true},
                                KeepState{PhotoId{14}, {"warmer", {0, 9}, 80, 70, 60, 50}, true},
                                Frame{PhotoId{13}, false, {1, {0.1, 0.2, 0.9, 0.8, -2.5}}},
                                KeepOrder{SomeOrder(), false},
                                Approve{"web", {PhotoId{14}}, {"digest"}},
                                TakeLook{"meadow", "{}"}};
  ASSERT_EQ(in.size(), std::variant_size_v<Word>) << "a new kind of word belongs into this test";
  {
    auto session = Make();
    Say(*session, in, "everything");
  }
  auto session = Again(Access::kRead);
  auto out = session->Words();
  ASSERT_TRUE(out.ok());
  ASSERT_EQ(out->size(), in.size());
  for (std::size_t i = 0; i < in.size(); ++i) {
    EXPECT_EQ((*out)[i].index(), i);
    EXPECT_EQ(Pack((*out)[i]), Pack(in[i]));
  }
  const Standing now = Fold(*out);
  EXPECT_EQ(now.joined.at(PhotoId{1}), PhotoId{2});
  EXPECT_EQ(now.refused.count({PhotoId{3}, PhotoId{4}}), 1u);
  EXPECT_EQ(now.barred.count(PhotoId{5}), 1u);
  EXPECT_EQ(now.roll_facts.at({RollId{6}, "stock"}), "x");
  EXPECT_EQ(now.light_starts.count(PhotoId{7}), 1u);
  EXPECT_EQ(now.together.at(0).size(), 2u);
  EXPECT_EQ(now.light_names.at(PhotoId{10}), "the mill");
  EXPECT_EQ(now.clock_offset_s.at("body B"), -3600);
  EXPECT_EQ(now.follow_skin.at(PhotoId{11}), 60);
  EXPECT_EQ(now.touch.at(PhotoId{12}).warmth_mired, 2);
  EXPECT_EQ(SettingOf(now, "tolerance"), 3);
  EXPECT_EQ(SettingOf(now, "follow"), 100);
  EXPECT_TRUE(now.settled.at(PhotoId{13}));
  ASSERT_EQ(now.states.at(PhotoId{14}).size(), 1u);
  EXPECT_EQ(now.states.at(PhotoId{14})[0].touch.warmth_mired, 9);
  EXPECT_EQ(FollowOf(now, PhotoId{11}), 100);
  EXPECT_EQ(FollowSkinOf(now, PhotoId{11}), 60);
  EXPECT_EQ(now.framing.at(PhotoId{13}).crop.angle_deg, -2.5);
  EXPECT_EQ(Pack(now.orders.at("web")), Pack(SomeOrder()));
  EXPECT_EQ(now.approved.at("web").at(PhotoId{14}), "digest");
}

TEST_F(SessionTest, OrdersFramingsAndApprovalsAreReplacedAsAWhole) {
  const PhotoId f{2}, g{3};
  record::Order order = SomeOrder(), other = order;
  other.quality = 80;
  Standing now = Fold({KeepOrder{order}, KeepOrder{other}, Frame{f, false, {1, {}}}, Frame{f, false, {2, {}}},
                       Approve{"web", {f}, {"a"}}, Approve{"web", {g}, {"b"}}});
  EXPECT_EQ(now.orders.at("web").quality, 80);
  EXPECT_EQ(now.framing.at(f).quarter_turns, 2);
  EXPECT_EQ(now.approved.at("web").count(f), 0u);
  EXPECT_EQ(now.approved.at("web").at(g), "b");
  now = Fold({TakeLook{"meadow", "{}"}, TakeLook{"river", "[]"}});
  EXPECT_EQ(now.look.name, "river");
  EXPECT_EQ(now.look.text, "[]");
  EXPECT_TRUE(Fold({TakeLook{"meadow", "{}"}, TakeLook{}}).look.text.empty());
  now = Fold({KeepOrder{order}, KeepOrder{order, true}, Frame{f, false, {1, {}}}, Frame{f, true, {}}});
  EXPECT_TRUE(now.orders.empty());
  EXPECT_TRUE(now.framing.empty());
}

TEST_F(SessionTest, WordsOutOfRangeAreRefused) {
  Word word;
  EXPECT_FALSE(Unpack(Pack(Word(Frame{PhotoId{1}, false, {4, {}}})), word));
  EXPECT_FALSE(Unpack(Pack(Word(Frame{PhotoId{1}, false, {0, {0.5, 0, 0.5, 1, 0}}})), word));
  EXPECT_FALSE(Unpack(Pack(Word(Frame{PhotoId{1}, false, {0, {0, 0, 1, 1, std::nan("")}}})), word));
  record::Order order = SomeOrder();
  order.format = static_cast<record::FileFormat>(5);
  EXPECT_FALSE(Unpack(Pack(Word(KeepOrder{order})), word));
  order = SomeOrder();
  order.names.push_back(static_cast<record::NamePart>(8));
  EXPECT_FALSE(Unpack(Pack(Word(KeepOrder{order})), word));
}

TEST_F(SessionTest, RegionsFollowOnTheirOwn) {
  using record::RegionKind;
  const PhotoId f{1}, g{2};
  const Standing now =
      Fold({Follow{{}, false, 40, RegionKind::kFoliage}, Follow{{f}, false, 70, RegionKind::kFoliage}});
  EXPECT_EQ(FollowRegionOf(now, f, RegionKind::kFoliage), 70);
  EXPECT_EQ(FollowRegionOf(now, g, RegionKind::kFoliage), 40);
  EXPECT_LT(FollowRegionOf(now, g, RegionKind::kSky), 0) << "with the whole";
  record::Correction c;
  PutFollow(now, g, c);
  EXPECT_DOUBLE_EQ(c.follow, 1);
  EXPECT_DOUBLE_EQ(c.follow_foliage, 0.4);
  EXPECT_LT(c.follow_sky, 0);
  const Bytes packed = Pack(Word(Follow{{f}, false, 70, RegionKind::kSky}));
  Word word;
  ASSERT_TRUE(Unpack(packed, word));
  EXPECT_EQ(std::get<Follow>(word).region, RegionKind::kSky);
}

TEST_F(SessionTest, TwoThreadsWriteUnderOneLock) {
  auto session = Make();
  auto beside = session->Beside();
  ASSERT_TRUE(beside.ok()) << beside.error().Text();
  std::thread other([&] {
    for (int i = 0; i < 40; ++i) Say(**beside, {Settle{PhotoId{i}, true}}, "beside");
  });
  for (int i = 100; i < 140; ++i) Say(*session, {Settle{PhotoId{i}, true}}, "here");
  other.join();
  EXPECT_EQ(Fold(*session->Words()).settled.size(), 80u);
  // The lock is held as long as either is there.
  session.reset();
  EXPECT_EQ(Session::Open(file_, Access::kWrite).error().code, ErrorCode::kBusy);
  *beside = nullptr;
  EXPECT_TRUE(Session::Open(file_, Access::kWrite).ok());
}

TEST_F(SessionTest, LaterWordsReplaceEarlierOnes) {
  const PhotoId s{1}, f{2}, g{3}, h{4};
  Standing now = Fold({Refuse{s, f}, Join{s, f}});
  EXPECT_EQ(now.joined.at(s), f);
  EXPECT_TRUE(now.refused.empty());
  now = Fold({Join{s, f}, Join{s, g}, Refuse{s, f}});
  EXPECT_EQ(now.joined.at(s), g) << "refusing another frame leaves the join";
  now = Fold({Join{s, f}, Refuse{s, f}});
  EXPECT_TRUE(now.joined.empty());
  now = Fold({Bar{s, true}, Bar{s, false}});
  EXPECT_TRUE(now.barred.empty());
  now = Fold({LightTogether{{f, g, h}}, LightStart{g}});
  ASSERT_EQ(now.together.size(), 1u);
  EXPECT_THAT(now.together[0], testing::ElementsAre(g, h));
  now = Fold({LightStart{g}, LightTogether{{f, g, h}}});
  EXPECT_TRUE(now.light_starts.empty());
  now = Fold({Follow{{}, false, 50}, Follow{{f}, false, 70}, Follow{{}, false, 80}});
  EXPECT_EQ(SettingOf(now, "follow"), 80);
  EXPECT_EQ(now.follow.at(f), 70);
}

TEST_F(SessionTest, UndoAndRedoSurviveARestart) {
  const auto turn = [&](bool undo) {
    auto session = Again();
    Result<Change> change = session->Begin();
    EXPECT_TRUE(change.ok());
    auto what = undo ? change->Undo() : change->Redo();
    EXPECT_TRUE(what.ok());
    EXPECT_TRUE(change->Commit().ok());
    return what->value_or("nothing");
  };
  const auto words = [&] { return Again(Access::kRead)->Words()->size(); };
  {
    auto session = Make();
    Say(*session, {Bar{PhotoId{1}}}, "first");
    Say(*session, {Bar{PhotoId{2}}, Bar{PhotoId{3}}}, "second");
  }
  EXPECT_EQ(words(), 3u);
  EXPECT_EQ(turn(true), "second");
  EXPECT_EQ(words(), 1u);
  EXPECT_EQ(turn(true), "first");
  EXPECT_EQ(turn(true), "nothing");
  EXPECT_EQ(words(), 0u);
  EXPECT_EQ(turn(false), "first");
  EXPECT_EQ(turn(false), "second");
  EXPECT_EQ(turn(false), "nothing");
  EXPECT_EQ(words(), 3u);
  EXPECT_EQ(turn(true), "second");
  {
    auto session = Again();
    Say(*session, {Bar{PhotoId{4}}}, "third");
    auto history = session->History();
    ASSERT_TRUE(history.ok());
    ASSERT_EQ(history->size(), 2u);
    EXPECT_EQ(history->back().what, "third");
    EXPECT_TRUE(history->back().standing);
  }
  EXPECT_EQ(turn(false), "nothing") << "a new change ends what had been taken back";
  EXPECT_EQ(words(), 2u);
}

TEST_F(SessionTest, GonePhotosAreKeptApart) {
  auto session = Make();
  record::Photo here = SomePhoto("a"), gone = SomePhoto("b");
  record::Roll roll{RollId{3}, "roll"};
  Result<Change> change = session->Begin();
  ASSERT_TRUE(change.ok());
  ASSERT_TRUE(change->Put(roll).ok());
  ASSERT_TRUE(change->Put(here).ok());
  ASSERT_TRUE(change->Put(gone).ok());
  ASSERT_TRUE(change->SetGone(gone.id, true).ok());
  ASSERT_TRUE(change->Put(gone).ok());  // new facts alone do not bring it back
  ASSERT_TRUE(change->Commit().ok());
  ASSERT_EQ(session->Photos()->size(), 1u);
  EXPECT_EQ(session->Photos()->front().path, "a");
  ASSERT_EQ(session->GonePhotos()->size(), 1u);
  EXPECT_EQ(session->GonePhotos()->front().path, "b");
  EXPECT_THAT(session->Rolls()->front().scans, testing::ElementsAre(here.id));
}

TEST_F(SessionTest, WhatIsNotCommittedIsGone) {
  auto session = Make();
  {
    Result<Change> change = session->Begin();
    ASSERT_TRUE(change.ok());
    record::Photo photo = SomePhoto("a");
    ASSERT_TRUE(change->Put(photo).ok());
  }
  EXPECT_TRUE(session->Photos()->empty());
  Result<Change> next = session->Begin();
  EXPECT_TRUE(next.ok()) << "the rollback has ended the first change";
}

TEST_F(SessionTest, TheSecondWriterIsToldReadersMayRead) {
  auto session = Make();
  Say(*session, {Bar{PhotoId{1}}}, "word");
  const pid_t child = ::fork();
  if (child == 0) {
    Result<std::unique_ptr<Session>> other = Session::Open(file_, Access::kWrite);
    if (other.ok() || other.error().code != ErrorCode::kBusy) ::_exit(1);
    if (other.error().Text().find(std::to_string(::getppid())) == std::string::npos) ::_exit(2);
    Result<std::unique_ptr<Session>> reader = Session::Open(file_, Access::kRead);
    if (!reader.ok() || (*reader)->Words()->size() != 1) ::_exit(3);
    ::_exit(0);
  }
  int status = 0;
  ASSERT_EQ(::waitpid(child, &status, 0), child);
  EXPECT_EQ(WEXITSTATUS(status), 0);
  // In one process as well.
  Result<std::unique_ptr<Session>> other = Session::Open(file_, Access::kWrite);
  ASSERT_FALSE(other.ok());
  EXPECT_EQ(other.error().code, ErrorCode::kBusy);
  session.reset();
  EXPECT_NE(Again(), nullptr);
}

TEST_F(SessionTest, AKillInTheMiddleLeavesWholeChanges) {
  { auto session = Make(); }
  for (int round = 0; round < 8; ++round) {
    const pid_t child = ::fork();
    if (child == 0) {
      auto opened = Session::Open(file_, Access::kWrite);
      if (!opened.ok()) ::_exit(1);
      while (true) {  // each change holds exactly three photos
        Result<Change> change = (*opened)->Begin();
        if (!change.ok()) ::_exit(1);
        static long number = 0;
        for (int i = 0; i < 3; ++i) {
          record::Photo photo = SomePhoto(std::to_string(::getpid()) + "/" + std::to_string(++number));
          if (!change->Put(photo).ok()) ::_exit(1);
        }
        if (!change->Commit().ok()) ::_exit(1);
      }
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(15 + 7 * round));
    ::kill(child, SIGKILL);
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    ASSERT_TRUE(WIFSIGNALED(status)) << "the child ended by itself with " << WEXITSTATUS(status);
    auto reader = Again(Access::kRead);
    ASSERT_NE(reader, nullptr);
    EXPECT_EQ(reader->Photos()->size() % 3, 0u);
    auto session = Again();  // the lock of a dead process is free
    ASSERT_NE(session, nullptr);
    EXPECT_EQ(session->Photos()->size() % 3, 0u);
  }
  EXPECT_GT(Again()->Photos()->size(), 0u);
}

TEST_F(SessionTest, ANewerSchemaIsRefusedAndLeftAsItIs) {
  { auto session = Make(); }
  sqlite3* raw = nullptr;
  ASSERT_EQ(sqlite3_open(file_.c_str(), &raw), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(raw, "PRAGMA user_version=999", nullptr, nullptr, nullptr), SQLITE_OK);
  sqlite3_close(raw);
  std::ifstream before_stream(file_, std::ios::binary);
  const std::string before((std::istreambuf_iterator<char>(before_stream)), {});
  for (const Access access : {Access::kRead, Access::kWrite, Access::kCreate}) {
    Result<std::unique_ptr<Session>> session = Session::Open(file_, access);
    ASSERT_FALSE(session.ok());
    EXPECT_EQ(session.error().code, ErrorCode::kNewerSchema);
    EXPECT_THAT(session.error().Text(), testing::HasSubstr("999"));
    EXPECT_EQ(session.error().file, file_.string());
  }
  std::ifstream after_stream(file_, std::ios::binary);
  const std::string after((std::istreambuf_iterator<char>(after_stream)), {});
  EXPECT_EQ(before, after);
}

TEST_F(SessionTest, OtherFilesAreRefused) {
  EXPECT_EQ(Session::Open(file_, Access::kWrite).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(Session::Open(folder_ / "no" / "x.samelight", Access::kCreate).error().code,
            ErrorCode::kNotFound);
  EXPECT_EQ(Session::Open(folder_, Access::kCreate).error().code, ErrorCode::kInvalidArgument);
  std::ofstream(file_)
      << "a letter, not a session; long enough to be looked at as a header of one hundred bytes, at "
         "least a little longer than that";
  EXPECT_EQ(Session::Open(file_, Access::kCreate).error().code, ErrorCode::kDamaged);
  fs::remove(file_);
  sqlite3* raw = nullptr;
  ASSERT_EQ(sqlite3_open(file_.c_str(), &raw), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(raw, "CREATE TABLE t(x)", nullptr, nullptr, nullptr), SQLITE_OK);
  sqlite3_close(raw);
  EXPECT_EQ(Session::Open(file_, Access::kCreate).error().code, ErrorCode::kUnsupported);
}

TEST_F(SessionTest, ADamagedFileIsNamedNeverTrusted) {
  {
    auto session = Make();
    Result<Change> change = session->Begin();
    ASSERT_TRUE(change.ok());
    for (int i = 0; i < 200; ++i) {
      record::Photo photo = SomePhoto("p" + std::to_string(i));
      ASSERT_TRUE(change->Put(photo).ok());
    }
    MatchResult match;
    for (int i = 0; i < 50; ++i) match.frames.push_back(SomeSolution(PhotoId{i}));
    ASSERT_TRUE(change->ReplaceMatch(match).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  std::ifstream stream(file_, std::ios::binary);
  const std::string whole((std::istreambuf_iterator<char>(stream)), {});
  ASSERT_GT(whole.size(), 20000u);
  int refused = 0;
  for (int round = 0; round < 60; ++round) {
    std::string hurt = whole;
    if (round % 3 == 0) {
      hurt.resize(whole.size() * (round + 1) / 64);
    } else {
      for (int i = 0; i < 40; ++i)
        hurt[(round * 7919 + i * 104729) % hurt.size()] ^= static_cast<char>(1 + i + round);
    }
    const fs::path copy = folder_ / ("hurt" + std::to_string(round));
    std::ofstream(copy, std::ios::binary) << hurt;
    Result<std::unique_ptr<Session>> session = Session::Open(copy, Access::kWrite);
    if (!session.ok()) {
      ++refused;
      EXPECT_FALSE(session.error().what.empty());
      continue;
    }
    // Damage inside a value is seen when that is read: a value or an error, never a crash.
    const bool photos = (*session)->Photos().ok(), match = (*session)->Match().ok();
    if (!photos || !match) ++refused;
  }
  EXPECT_GT(refused, 30);
}

TEST_F(SessionTest, DamagedBlobsAreRefused) {
  const Bytes good = Pack(SomeSolution(PhotoId{3}));
  record::FrameSolution out;
  ASSERT_TRUE(Unpack(good, out));
  for (std::size_t size = 0; size < good.size(); ++size)
    EXPECT_FALSE(Unpack(Bytes(good.begin(), good.begin() + static_cast<long>(size)), out)) << size;
  Bytes longer = good;
  longer.push_back(0);
  EXPECT_FALSE(Unpack(longer, out));
  Bytes later = good;
  later[0] = 99;
  EXPECT_FALSE(Unpack(later, out)) << "a later version of the blob";

  Word word;
  Bytes unknown = Pack(Word(Bar{PhotoId{1}}));
  unknown[2] = 200;
  EXPECT_FALSE(Unpack(unknown, word));
}

// As the version before kept it: reasons were words alone, and there was nothing of a scan's own nudge.
TEST(Blob, ReasonsOfAnEarlierVersionAreStillRead) {
  record::FrameSolution in;
  in.scan = PhotoId{3};
  const std::string words = "the pair is doubtful";
  in.flags = {{record::FlagKind::kDoubtfulPair, words, ""}};
  Bytes bytes = Pack(in);
  ASSERT_GT(bytes.size(), 100u);
  constexpr std::size_t kNudge = 5 * sizeof(double), kInLook = 1, kBrief = sizeof(std::uint32_t);
  bytes.resize(bytes.size() - kNudge - kInLook - kBrief);
  bytes.erase(bytes.end() - static_cast<long>(words.size() + sizeof(std::uint32_t) + 1));  // the kind
  bytes[0] = 6;
  record::FrameSolution out;
  ASSERT_TRUE(Unpack(bytes, out));
  ASSERT_EQ(out.flags.size(), 1u);
  EXPECT_EQ(out.flags[0].text, words);
  EXPECT_EQ(out.flags[0].kind, record::FlagKind::kOther);
  EXPECT_TRUE(out.scan_in_look);
  EXPECT_EQ(out.nudge, record::ScanNudge{});
}

TEST_F(SessionTest, PathsAreRelativeWithSlashes) {
  auto session = Make();
  fs::create_directories(folder_ / "film" / "roll 1");
  std::ofstream(folder_ / "film" / "roll 1" / "a.jpg") << "x";
  EXPECT_EQ(session->Relative(folder_ / "film" / "." / "roll 1" / "a.jpg"), "film/roll 1/a.jpg");
  EXPECT_EQ(session->Relative(folder_.parent_path() / "other.jpg"), "../other.jpg");
  EXPECT_EQ(session->Absolute("film/roll 1/a.jpg"), session->folder() / "film" / "roll 1" / "a.jpg");
  EXPECT_EQ(session->cache_folder().filename(), "wedding.cache");
}

TEST_F(SessionTest, AReadOnlyFolderCanBeRead) {
  {
    auto session = Make();
    Say(*session, {Bar{PhotoId{1}}}, "word");
  }
  if (::geteuid() == 0) {  // root may write everywhere: become somebody else in a child
    const pid_t child = ::fork();
    if (child == 0) {
      if (::chown(folder_.c_str(), 0, 0) != 0 || ::chmod(folder_.c_str(), 0555) != 0) ::_exit(9);
      if (::chmod(file_.c_str(), 0444) != 0 || ::setuid(65534) != 0) ::_exit(9);
      auto reader = Session::Open(file_, Access::kRead);
      if (!reader.ok() || (*reader)->Words()->size() != 1) ::_exit(1);
      auto writer = Session::Open(file_, Access::kWrite);
      ::_exit(!writer.ok() && writer.error().code == ErrorCode::kPermission ? 0 : 2);
    }
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_EQ(WEXITSTATUS(status), 0);
  } else {
    fs::permissions(folder_, fs::perms::owner_read | fs::perms::owner_exec);
    EXPECT_NE(Again(Access::kRead), nullptr);
    EXPECT_EQ(Session::Open(file_, Access::kWrite).error().code, ErrorCode::kPermission);
    fs::permissions(folder_, fs::perms::owner_all);
  }
}

// Every released version of the file stays as a test file and can be read by every later one.
TEST_F(SessionTest, ReleasedVersionsOpen) {
  int seen = 0;
  for (const auto& entry : fs::directory_iterator(fs::path(SAMELIGHT_SOURCE_DIR) / "tests" / "sessions")) {
    if (entry.path().extension() != ".samelight") continue;
    ++seen;
    SCOPED_TRACE(entry.path().filename().string());
    const fs::path copy = folder_ / entry.path().filename();
    fs::copy_file(entry.path(), copy);
    Result<std::unique_ptr<Session>> session = Session::Open(copy, Access::kWrite);
    ASSERT_TRUE(session.ok()) << session.error().Text();
    auto photos = (*session)->Photos();
    ASSERT_TRUE(photos.ok()) << photos.error().Text();
    ASSERT_EQ(photos->size(), 2u);
    EXPECT_EQ(photos->front().capture.body, "body Ä");
    EXPECT_EQ(photos->front().capture.aperture, 1.4);
    auto match = (*session)->Match();
    ASSERT_TRUE(match.ok()) << match.error().Text();
    ASSERT_EQ(match->frames.size(), 1u);
    EXPECT_EQ(match->frames[0].correction.unify.exposure_log10, 0.1 + 0.2);
    auto pairs = (*session)->Pairs();
    ASSERT_TRUE(pairs.ok());
    ASSERT_EQ(pairs->scan_to_frame.size(), 1u);
    EXPECT_EQ(pairs->scan_to_frame[0].cells.size(), 2u);
    auto words = (*session)->Words();
    ASSERT_TRUE(words.ok());
    EXPECT_EQ(words->size(), 1u);
    auto measured = (*session)->Measured();
    ASSERT_TRUE(measured.ok());
    EXPECT_EQ(measured->at(PhotoId{2}).measured.light.mired, 180);
  }
  EXPECT_GE(seen, 1);
}

// Writes the file for tests/sessions when the format changes: set SAMELIGHT_WRITE_SESSION to its name and run
// this test.
TEST_F(SessionTest, WriteTheFileOfThisVersion) {
  const char* name = std::getenv("SAMELIGHT_WRITE_SESSION");
  if (name == nullptr) GTEST_SKIP() << "only when asked for";
  {
    auto session = Make();
    Result<Change> change = session->Begin();
    ASSERT_TRUE(change.ok());
    record::Photo scan = SomePhoto("film/a.tif"), frame;
    frame.path = "digital/b.jpg";
    ASSERT_TRUE(change->Put(scan).ok());
    ASSERT_TRUE(change->Put(frame).ok());
    record::Roll roll{RollId{}, "roll 1"};
    ASSERT_TRUE(change->Put(roll).ok());
    MeasuredEntry entry{"abc", {}};
    entry.measured.light.mired = 180;
    entry.measured.regions.resize(1);
    ASSERT_TRUE(change->PutMeasured(frame.id, entry).ok());
    PairResult pairs;
    pairs.lights = {{LightId{1}, "mill", {frame.id}, {scan.id}, 190, 0.002}};
    pairs.pairs = {{scan.id,
                    frame.id,
                    record::PairKind::kMoment,
                    0.9,
                    false,
                    {{frame.id, record::PairKind::kLight, 0.1}}}};
    pairs.scan_to_frame = {{scan.id, frame.id, 33}};
    pairs.scan_to_frame[0].cells.resize(2);
    pairs.clocks = {{"body B", 12, 0.5}};
    ASSERT_TRUE(change->ReplacePairs(pairs).ok());
    ASSERT_TRUE(change->ReplaceMatch({{SomeSolution(frame.id)}, {{scan.id, 1}}, {}, {"note"}}).ok());
    ASSERT_TRUE(change->Put(Delivery{"out/b.jpg", frame.id, "default", "digest", true}).ok());
    ASSERT_TRUE(
        change
            ->ReplaceProblems(Stage::kStock,
                              {{Stage::kStock, "set aside", {ErrorCode::kDamaged, "empty", "c.jpg", ""}}})
            .ok());
    ASSERT_TRUE(change->Say({Join{scan.id, frame.id}}, "join a and b").ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  fs::copy_file(file_, fs::path(SAMELIGHT_SOURCE_DIR) / "tests" / "sessions" / name,
                fs::copy_options::overwrite_existing);
}

}  // namespace
}  // namespace samelight::session
