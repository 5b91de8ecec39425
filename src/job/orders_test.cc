// What orders ask for is what is delivered. Invented pictures; sizes and metadata are read back by other
// programs' libraries (the decoders of codec) and, where it is installed, by exiftool.
#include <gmock/gmock.h>

#include <cmath>
#include <cstdio>
#include <set>

#include "job/delivery_testing.h"
#include "job/order_fields.h"
#include "job/output_names.h"
#include "job/running_order.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

using record::Photo;
using record::Role;
using testing::BytesOf;
using testing::DeliveryTest;
using ::testing::ElementsAre;
using testing::FilesBelow;
using ::testing::HasSubstr;

Photo Named(std::int64_t id, const std::string& path, Role role = Role::kFrame) {
  Photo photo;
  photo.id.value = id;
  photo.path = path;
  photo.role = role;
  return photo;
}

TEST(OrderFieldsTest, EveryFieldHasHelpAndGoesThereAndBack) {
  record::Order order;
  std::set<std::string> names;
  for (const OrderField& field : OrderFields()) {
    EXPECT_TRUE(names.insert(field.name).second) << field.name;
    EXPECT_FALSE(field.help.empty()) << field.name;
    EXPECT_FALSE(field.kind.empty()) << field.name;
    const std::string text = FieldText(order, field.name);
    record::Order again;
    EXPECT_TRUE(SetField(again, field.name, text).ok()) << field.name << " " << text;
    EXPECT_EQ(session::Pack(again), session::Pack(order)) << field.name;
  }
  EXPECT_EQ(Told(order), "as usual");
  ASSERT_TRUE(SetField(order, "print", "30x20").ok());
  ASSERT_TRUE(SetField(order, "names", "light,number,label").ok());
  ASSERT_TRUE(SetField(order, "grain-amount", "50").ok());
  EXPECT_EQ(order.grain_amount, 0.5);
  EXPECT_EQ(Told(order), "print 30x20, names light,number,label, grain-amount 50");
  EXPECT_EQ(FieldText(order, "print"), "30x20");
  ASSERT_TRUE(SetField(order, "long-side", "2000").ok());
  EXPECT_EQ(FieldText(order, "print"), "0") << "one size at a time";
}

TEST(OrderFieldsTest, WhatIsNotUnderstoodLeavesTheOrder) {
  record::Order order;
  const auto before = session::Pack(order);
  for (const auto& [field, word] : std::vector<std::pair<std::string, std::string>>{{"format", "gif"},
                                                                                    {"quality", "59"},
                                                                                    {"quality", "90.5"},
                                                                                    {"quality", "nan"},
                                                                                    {"long-side", "-1"},
                                                                                    {"long-side", "2k"},
                                                                                    {"pixels", "3000"},
                                                                                    {"print", "0x3"},
                                                                                    {"names", "stem,,light"},
                                                                                    {"names", ""},
                                                                                    {"grain", "yes"},
                                                                                    {"colour", "red"}}) {
    const Status set = SetField(order, field, word);
    ASSERT_FALSE(set.ok()) << field << " " << word;
    EXPECT_EQ(set.error().code, ErrorCode::kInvalidArgument);
    EXPECT_EQ(session::Pack(order), before);
  }
}

TEST(OutputNamesTest, TheFirstKeepsItsStemTheNextIsNumbered) {
  const std::vector<Photo> frames = {Named(1, "a/IMG_1.dng"),
                                     Named(2, "a/IMG_1.jpg"),
                                     Named(3, "b/IMG_1.jpg"),
                                     Named(4, "b/img_1.tif"),
                                     Named(5, "b/IMG_1~2.jpg"),
                                     Named(6, "c/other.jpg"),
                                     Named(7, "c/Fu\u00DFball.jpg"),
                                     Named(8, "c/FUSSBALL.jpg"),
                                     Named(9, "c/\u00C9t\u00E9.jpg"),
                                     Named(10, "c/e\u0301te\u0301.jpg"),
                                     Named(0, "film/other.jpg", Role::kScan)};
  NameSource source;
  for (const Photo& photo : frames) source.running.push_back(&photo);
  const std::vector<record::Light> lights;
  const std::vector<record::Roll> rolls;
  const std::vector<session::Clock> clocks;
  source.lights = &lights;
  source.rolls = &rolls;
  source.clocks = &clocks;
  const auto names = OutputNames({}, source);
  EXPECT_EQ(names.at(PhotoId{1}), "IMG_1");
  EXPECT_EQ(names.at(PhotoId{2}), "IMG_1~2");
  EXPECT_EQ(names.at(PhotoId{3}), "IMG_1~3");
  EXPECT_EQ(names.at(PhotoId{4}), "img_1~4")
      << "other systems would lose one of two names that differ in case";
  EXPECT_EQ(names.at(PhotoId{5}), "IMG_1~2~2") << "its own stem was taken by then";
  EXPECT_EQ(names.at(PhotoId{6}), "other");
  EXPECT_EQ(names.at(PhotoId{0}), "other~2") << "frames come before scans";
  // Unicode 15.0, CaseFolding.txt: 00DF; F; 0073 0073. 00C9; C; 00E9, which is 0065 0301 decomposed.
  EXPECT_EQ(names.at(PhotoId{7}), "Fu\u00DFball");
  EXPECT_EQ(names.at(PhotoId{8}), "FUSSBALL~2");
  EXPECT_EQ(names.at(PhotoId{9}), "\u00C9t\u00E9");
  EXPECT_EQ(names.at(PhotoId{10}), "e\u0301te\u0301~2") << "the same name on a disk that composes or decomposes";
}

TEST(OutputNamesTest, PartsAreJoinedAndMadeSafe) {
  std::vector<Photo> photos = {Named(1, "a/x.jpg"), Named(2, "a/y.jpg")};
  photos[0].capture.time_us = 1'700'000'000'000'000;  // 2023-11-14 22:13:20 UTC (date -u -d @1700000000)
  photos[0].capture.body = "body A";
  NameSource source;
  for (const Photo& photo : photos) source.running.push_back(&photo);
  const std::vector<record::Light> lights = {{LightId{1}, "../hall: late. ", {PhotoId{1}}, {}, 0, 0}};
  const std::vector<record::Roll> rolls;
  const std::vector<session::Clock> clocks = {{"body A", 60, 1}};
  source.lights = &lights;
  source.rolls = &rolls;
  source.clocks = &clocks;
  record::Order order;
  ASSERT_TRUE(SetField(order, "names", "label,light,number,date,time,body,stem,roll").ok());
  order.label = "a/b";
  const auto names = OutputNames(order, source);
  EXPECT_EQ(names.at(PhotoId{1}), "a_b-_._hall_ late-001-2023-11-14-22.14.20-body A-x");
  EXPECT_EQ(names.at(PhotoId{2}), "a_b-002-unknown body-y") << "what it has not is left out";
  ASSERT_TRUE(SetField(order, "folders", "light").ok());
  ASSERT_TRUE(SetField(order, "names", "time").ok());
  EXPECT_EQ(OutputNames(order, source).at(PhotoId{1}), "_._hall_ late/22.14.20");
  EXPECT_EQ(OutputNames(order, source).at(PhotoId{2}), "no light/picture");
}

TEST(OutputNamesTest, WhateverAPictureIsCalledItsFileCanBeWritten) {
  std::string wide, bytes(240, '\x9f');  // of no use as UTF-8
  for (int i = 0; i < 80; ++i) wide += "写";
  const std::vector<std::pair<std::string, std::string>> known = {
      {"Brüder & Schwestern — ‘Fest’ (1)", "Brüder & Schwestern — ‘Fest’ (1)"},
      {"new\nline\t", "new_line_"},
      {"-r", "-r"},
      {".hidden", "_hidden"},
      {"dots. . ", "dots"},
      {"con", "con_"},
      {"Lpt1.x", "Lpt1.x_"},
      {"console", "console"},
      {wide, wide.substr(0, 99)},
      {bytes, "picture"}};
  const std::vector<record::Light> lights;
  const std::vector<record::Roll> rolls;
  const std::vector<session::Clock> clocks;
  for (const auto& [stem, wanted] : known) {
    const Photo photo = Named(1, "a/" + stem + ".jpg");
    const NameSource source{{&photo}, &lights, &rolls, &clocks};
    EXPECT_EQ(OutputNames({}, source).at(PhotoId{1}), wanted) << stem;
    record::Order order;
    ASSERT_TRUE(SetField(order, "names", "label,stem,label,stem").ok());
    order.label = wide;
    const std::string long_name = OutputNames(order, source).at(PhotoId{1});
    EXPECT_LE(AsideName("/out/" + long_name + "~99.jpg").filename().string().size(), 255u) << "NAME_MAX";
  }
}

TEST(RunningOrderTest, ScansStandBehindTheirFrames) {
  std::vector<Photo> photos = {Named(1, "film/1.jpg", Role::kScan),
                               Named(2, "film/2.jpg", Role::kScan),
                               Named(3, "film/3.jpg", Role::kScan),
                               Named(4, "a.jpg"),
                               Named(5, "b.jpg"),
                               Named(6, "c.jpg"),
                               Named(7, "film 2/1.jpg", Role::kScan)};
  for (int i = 0; i < 3; ++i) photos[i].roll = RollId{1}, photos[i].roll_position = i;
  photos[6].roll = RollId{2};
  photos[3].capture.time_us = 30;
  photos[4].capture.time_us = 10;  // c has no time
  const auto ids = [&](const std::vector<record::Pair>& pairs) {
    std::vector<std::int64_t> list;
    for (const Photo* photo : RunningOrder(photos, {}, pairs)) list.push_back(photo->id.value);
    return list;
  };
  using record::PairKind;
  EXPECT_THAT(ids({{PhotoId{2}, PhotoId{4}, PairKind::kMoment}, {PhotoId{1}, PhotoId{5}, PairKind::kNone}}),
              ElementsAre(5, 4, 1, 2, 3, 6, 7));
  EXPECT_THAT(ids({{PhotoId{3}, PhotoId{5}, PairKind::kLight}, {PhotoId{1}, PhotoId{4}, PairKind::kMoment}}),
              ElementsAre(5, 3, 4, 1, 2, 6, 7))
      << "a roll that runs backwards";
}

class OrdersTest : public DeliveryTest {
 protected:
  static DeliverOptions With(const OrderFieldWords& fields) {
    DeliverOptions options;
    options.fields = {{"grain", "off"}};
    options.fields.insert(options.fields.end(), fields.begin(), fields.end());
    return options;
  }
  static codec::Picture Read(const fs::path& file) {
    auto picture = codec::ReadPicture(file);
    EXPECT_TRUE(picture.ok()) << picture.error().Text();
    return picture.ok() ? std::move(picture).value() : codec::Picture{};
  }
  std::vector<std::string> Names(const std::string& into = "") const {
    std::vector<std::string> names;
    for (const auto& [name, bytes] : FilesBelow(out() / into)) names.push_back(name);
    return names;
  }
};

TEST_F(OrdersTest, SizesAreReachedAndNothingIsEnlarged) {
  Make(1, 0, 120, 80);
  const auto size = [&](const OrderFieldWords& fields, const std::string& into) {
    EXPECT_TRUE(Deliver(With(fields), into).ok());
    const codec::Picture picture = Read(out() / into / "P1.jpg");
    return std::pair(picture.photo.width_px, picture.photo.height_px);
  };
  EXPECT_EQ(size({}, "whole"), std::pair(120, 80));
  EXPECT_EQ(size({{"long-side", "60"}}, "long"), std::pair(60, 40));
  EXPECT_EQ(size({{"long-side", "6000"}}, "large"), std::pair(120, 80));
  EXPECT_EQ(size({{"pixels", "30x60"}}, "box"), std::pair(45, 30)) << "the box lies as the picture does";
  // 1 cm x 0.5 cm at 127 dpi is 50 x 25 px; the picture's shape gives 37 x 25.
  EXPECT_EQ(size({{"print", "1x0.5"}, {"dpi", "127"}}, "print"), std::pair(37, 25));
}

TEST_F(OrdersTest, FormatsSpacesAndDepths) {
  Make(1, 0);
  for (const auto& [format, ending, depth] :
       std::vector<std::tuple<std::string, std::string, std::size_t>>{{"jpeg", ".jpg", 8},
                                                                      {"tiff8", ".tif", 8},
                                                                      {"tiff16", ".tif", 16},
                                                                      {"png", ".png", 8},
                                                                      {"png16", ".png", 16}})
    for (const std::string space : {"srgb", "display-p3", "adobe-rgb", "rec2020", "romm"}) {
      const std::string into = format + space;
      ASSERT_TRUE(Deliver(With({{"format", format}, {"space", space}}), into).ok());
      const codec::Picture picture = Read(out() / into / ("P1" + ending));
      EXPECT_FALSE(picture.photo.profile_assumed) << into;
      const codec::Picture plain = Read(out() / (format + "srgb") / ("P1" + ending));
      double off = 0;
      for (std::size_t i = 0; i < picture.pixels.data().size(); ++i)
        off += std::abs(picture.pixels.data()[i] - plain.pixels.data()[i]);
      // The same colours whatever space they were written in (8 bit: rounding and dither of two files).
      EXPECT_LT(off / static_cast<double>(picture.pixels.data().size()), depth == 16 ? 3e-4 : 4e-3) << into;
    }
}

TEST_F(OrdersTest, SubsamplingAndQualityReachTheFile) {
  Make(1, 0);
  std::map<std::string, std::size_t> bytes;
  for (const std::string sampling : {"444", "422", "420"})
    for (const std::string quality : {"70", "95"}) {
      ASSERT_TRUE(Deliver(With({{"subsampling", sampling}, {"quality", quality}}), sampling + quality).ok());
      bytes[sampling + quality] = BytesOf(out() / (sampling + quality) / "P1.jpg").size();
    }
  EXPECT_GT(bytes["44495"], bytes["42295"]);
  EXPECT_GT(bytes["42295"], bytes["42095"]);
  EXPECT_GT(bytes["42095"], bytes["42070"]);
}

TEST_F(OrdersTest, NamesFoldersAndTheRunningOrder) {
  Make(4, 2);
  const auto answer = Deliver(With({{"names", "number,stem"}, {"folders", "light"}, {"pictures", "both"}}));
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_EQ(answer->frames, 4);
  EXPECT_EQ(answer->scans, 2);
  EXPECT_EQ(answer->written, 6);
  EXPECT_TRUE(answer->problems.empty());
  EXPECT_THAT(Names(), ElementsAre("hall_ late/005-P3.jpg", "hall_ late/006-P4.jpg", "mill/001-P1.jpg",
                                   "mill/003-P2.jpg", "no light/002-s1.jpg", "no light/004-s2.jpg"));
  EXPECT_EQ(BytesOf(out() / "no light" / "002-s1.jpg"), BytesOf(ScanFile(1))) << "untouched";
}

TEST_F(OrdersTest, NumbersThatMovedAreTold) {
  Make(3, 2);
  const auto deliver = [&](const char* pictures) {
    const auto answer = Deliver(With({{"names", "number,stem"}, {"pictures", pictures}}));
    EXPECT_TRUE(answer.ok() && answer->problems.empty());
    return answer.ok() ? answer->notes : std::vector<std::string>{"failed"};
  };
  EXPECT_THAT(deliver("frames"), ElementsAre());
  // Scans stand beside their frames now: 001-P1, 002-s1, 003-P2, 004-s2, 005-P3.
  EXPECT_THAT(deliver("both"), ElementsAre(::testing::AllOf(HasSubstr("2 of the pictures"),
                                                            HasSubstr("002-P2.jpg is 003-P2.jpg now"))));
  EXPECT_THAT(deliver("both"), ElementsAre()) << "once";
}

TEST_F(OrdersTest, ScansFittedKeepTheirColours) {
  Make(1, 1, 120, 80);
  ASSERT_TRUE(Deliver(With({{"pictures", "scans"}, {"scans", "fitted"}, {"format", "tiff16"}})).ok());
  EXPECT_THAT(Names(), ElementsAre("s1.tif"));
  const codec::Picture before = Read(ScanFile(1)), after = Read(out() / "s1.tif");
  double worst = 0;
  for (std::size_t i = 0; i < before.pixels.data().size(); ++i)
    worst = std::max(worst, std::abs(std::sqrt(std::max(0.0f, before.pixels.data()[i])) -
                                     1.0 * std::sqrt(std::max(0.0f, after.pixels.data()[i]))));
  EXPECT_LT(worst, 1e-3);
  ASSERT_TRUE(Deliver(With({{"pictures", "scans"}, {"scans", "fitted"}, {"long-side", "60"}}), "small").ok());
  EXPECT_EQ(Read(out() / "small" / "s1.jpg").photo.width_px, 60);
}

// Without a black-and-white roll: grey, plain, and it is said. The tone of one is measured through the whole
// program (black_and_white_test).
TEST_F(OrdersTest, BlackAndWhiteWithoutARollIsPlainAndSaid) {
  Make(1, 0);
  const auto answer = Deliver(With({{"tones", "black-and-white"}, {"format", "tiff16"}}));
  ASSERT_TRUE(answer.ok());
  EXPECT_THAT(answer->notes, ElementsAre(HasSubstr("no black-and-white roll")));
  ASSERT_TRUE(Deliver(With({{"format", "tiff16"}}), "colour").ok());
  const codec::Picture grey = Read(out() / "P1.tif"), colour = Read(out() / "colour" / "P1.tif");
  double coloured = 0, off = 0, n = 0;
  for (std::size_t i = 0; i + 2 < grey.pixels.data().size(); i += 3) {
    const float *g = &grey.pixels.data()[i], *c = &colour.pixels.data()[i];
    coloured = std::max(coloured, std::abs(g[0] - 1.0 * g[2]));
    off += g[1] - (0.2627 * c[0] + 0.678 * c[1] + 0.0593 * c[2]);
    ++n;
  }
  EXPECT_LT(coloured, 1e-3);
  EXPECT_LT(std::abs(off / n), 0.02) << "luma of encoded colours is near luminance";
}

TEST_F(OrdersTest, RatingsChoose) {
  Make(3, 0);
  {
    const auto session = Open();
    auto photos = session->Photos();
    auto change = session->Begin();
    (*photos)[0].capture.rating = -1;
    (*photos)[1].capture.rating = 4;
    for (Photo& photo : *photos) ASSERT_TRUE(change->Put(photo).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  EXPECT_EQ(Deliver(With({}), "all")->frames, 3);
  EXPECT_EQ(Deliver(With({{"rating", "0"}}), "kept")->frames, 2);
  EXPECT_EQ(Deliver(With({{"rating", "4"}}), "best")->frames, 1);
}

TEST_F(OrdersTest, FramesAreFramedAsSaid) {
  Make(2, 0, 120, 80);
  {
    const auto session = Open();
    auto photos = session->Photos();
    auto change = session->Begin();
    (*photos)[1].crop = record::Crop{0.5, 0, 1, 1, 0};  // as an editor's metadata had it
    ASSERT_TRUE(change->Put((*photos)[1]).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  const auto size = [&](const std::string& into, const std::string& name) {
    const codec::Picture picture = Read(out() / into / name);
    return std::pair(picture.photo.width_px, picture.photo.height_px);
  };
  ASSERT_TRUE(Deliver(With({}), "a").ok());
  EXPECT_EQ(size("a", "P1.jpg"), std::pair(120, 80));
  EXPECT_EQ(size("a", "P2.jpg"), std::pair(60, 80));
  ASSERT_TRUE(Deliver(With({{"crop", "off"}}), "b").ok());
  EXPECT_EQ(size("b", "P2.jpg"), std::pair(120, 80));
  CropRequest crop{file(), {"P1"}, 1, std::nullopt, std::nullopt, false};
  ASSERT_TRUE(Crop(crop).ok());
  crop.quarter_turns = std::nullopt;
  crop.cut = {0.25, 0.25, 0.75, 0.75};
  ASSERT_TRUE(Crop(crop).ok());
  const auto again = Deliver(With({}), "a");
  EXPECT_EQ(again->written, 1) << "only the frame that is framed anew";
  EXPECT_EQ(size("a", "P1.jpg"), std::pair(40, 60));
  EXPECT_EQ(ShowPicture(file(), "P1")->framing.quarter_turns, 1);
  ASSERT_EQ(Undo(file())->what, "P1 framed");
  ASSERT_TRUE(Deliver(With({}), "a").ok());
  EXPECT_EQ(size("a", "P1.jpg"), std::pair(80, 120));
  ASSERT_TRUE(Crop({file(), {"P1", "P2"}, {}, {}, {}, true}).ok());
  ASSERT_TRUE(Deliver(With({}), "a").ok());
  EXPECT_EQ(size("a", "P1.jpg"), std::pair(120, 80));
  EXPECT_EQ(size("a", "P2.jpg"), std::pair(60, 80));
  EXPECT_EQ(Crop({file(), {"P1"}, {}, 50.0, {}, false}).error().code, ErrorCode::kInvalidArgument);
  EXPECT_EQ(Crop({file(), {"P1"}, {}, {}, {}, false}).error().code, ErrorCode::kInvalidArgument);
  EXPECT_EQ(Crop({file(), {"P9"}, 1, {}, {}, false}).error().code, ErrorCode::kNotFound);
}

TEST_F(OrdersTest, OrdersAreKeptWithHistory) {
  Make(2, 0);
  ASSERT_TRUE(Orders({file(), "web", {{"long-side", "48"}, {"grain", "off"}}, false, false}).ok());
  ASSERT_TRUE(Orders({file(), "album", {{"format", "tiff16"}, {"grain", "off"}}, false, false}).ok());
  auto answer = Orders({file(), "web", {{"quality", "80"}}, false, false});
  ASSERT_EQ(answer->orders.size(), 2u);
  EXPECT_EQ(answer->told[1], "quality 80, long-side 48, grain off");
  DeliverOptions both;
  both.orders = {"web", "album"};
  const auto delivered = Deliver(both);
  ASSERT_TRUE(delivered.ok()) << delivered.error().Text();
  EXPECT_EQ(delivered->written, 4);
  EXPECT_THAT(Names(), ElementsAre("album/P1.tif", "album/P2.tif", "web/P1.jpg", "web/P2.jpg"));
  EXPECT_EQ(Deliver(both)->kept, 4);
  ASSERT_THAT(Undo(file())->what, HasSubstr("order web"));
  EXPECT_EQ(Orders({file(), "", {}, false, false})->orders[1].quality, 95);
  ASSERT_TRUE(Orders({file(), "album", {}, true, false}).ok());
  EXPECT_EQ(Deliver(both).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(Orders({file(), "album", {}, true, false}).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(Orders({file(), "a/b", {}, false, false}).error().code, ErrorCode::kInvalidArgument);
  // What is said while delivering is kept too.
  DeliverOptions said;
  said.orders = {"proofs"};
  said.fields = {{"long-side", "32"}, {"grain", "off"}};
  EXPECT_EQ(Deliver(said, "proofs")->written, 2);
  EXPECT_EQ(Orders({file(), "", {}, false, false})->orders[0].size.long_side_px, 32);
}

TEST_F(OrdersTest, ARevisionHoldsOnlyWhatChanged) {
  Make(3, 0);
  DeliverOptions options;
  options.orders = {"web"};
  options.fields = {{"grain", "off"}};
  ASSERT_TRUE(Deliver(options, "first").ok());
  ASSERT_EQ(Orders({file(), "web", {}, false, true})->approved, 3);
  options.fields.clear();
  options.changed = true;
  EXPECT_EQ(Deliver(options, "second")->frames, 0);
  {
    const auto session = Open();
    auto match = session->Match();
    match->frames[1].correction.touch.exposure_ev = 0.5;
    auto change = session->Begin();
    ASSERT_TRUE(change->ReplaceMatch(*match).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  const auto answer = Deliver(options, "second");
  EXPECT_EQ(answer->written, 1);
  EXPECT_THAT(answer->notes, ElementsAre("2 as approved, and left out"));
  EXPECT_THAT(Names("second"), ElementsAre("P2.jpg"));
  EXPECT_EQ(Orders({file(), "other", {}, false, true}).error().code, ErrorCode::kNothingToDo);
}

TEST_F(OrdersTest, OrdersDoNotWriteOverEachOther) {
  Make(1, 0);
  ASSERT_TRUE(Deliver(With({})).ok());
  const auto before = FilesBelow(out());
  DeliverOptions options;
  options.orders = {"web"};
  options.fields = {{"long-side", "48"}, {"grain", "off"}};
  auto answer = Deliver(options);
  ASSERT_EQ(answer->problems.size(), 1u);
  EXPECT_THAT(answer->problems[0].why, HasSubstr("of the order 'default'"));
  EXPECT_EQ(FilesBelow(out()), before);
  options.fields.clear();
  options.again = true;
  EXPECT_EQ(Deliver(options)->written, 1);
  EXPECT_NE(FilesBelow(out()), before);
}

}  // namespace
}  // namespace samelight::job
