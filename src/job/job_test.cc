// The pieces of the jobs on small invented sessions; whole runs are tested through the program (src/cli).
#include "job/job.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <atomic>
#include <fstream>
#include <thread>

#include "base/file.h"
#include "codec/write.h"
#include "job/digest.h"
#include "job/find_pictures.h"
#include "job/memory_gate.h"
#include "job/names.h"
#include "job/roll_series.h"
#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"
#include "job/words.h"

namespace samelight::job {
namespace {

using record::Photo;
using record::Role;
using testing::ElementsAre;
using testing::HasSubstr;

Photo Named(std::int64_t id, const std::string& path, Role role = Role::kFrame) {
  Photo photo;
  photo.id.value = id;
  photo.path = path;
  photo.role = role;
  return photo;
}

TEST(NamesTest, PicturesAreFoundByNameStemOrPath) {
  const std::vector<Photo> photos = {Named(1, "film/roll 1/01.jpg", Role::kScan),
                                     Named(2, "film/roll 2/01.jpg", Role::kScan), Named(3, "digital/01.dng"),
                                     Named(4, "digital/P7.jpg")};
  EXPECT_EQ(FindPhoto(photos, Role::kFrame, "01")->value, 3);
  EXPECT_EQ(FindPhoto(photos, Role::kScan, "roll 2/01.jpg")->value, 2);
  EXPECT_EQ(FindPhoto(photos, "P7")->value, 4);
  EXPECT_EQ(FindPhoto(photos, "digital/P7.jpg")->value, 4);
  EXPECT_EQ(FindPhoto(photos, "7.jpg").error().code, ErrorCode::kNotFound) << "only whole parts of a path";
  const Error two = FindPhoto(photos, Role::kScan, "01.jpg").error();
  EXPECT_EQ(two.code, ErrorCode::kInvalidArgument);
  EXPECT_THAT(two.what, testing::AllOf(HasSubstr("roll 1"), HasSubstr("roll 2")));
}

// common practice: labs number the scans of a roll behind the roll's own name.
TEST(RollSeriesTest, NamesBeforeTheNumberTellRollsApart) {
  using Names = std::vector<std::string>;
  EXPECT_EQ(RollSeries({"R1-01", "R1-02", "R2-01", "R2-02"}), (Names{"R1", "R1", "R2", "R2"}));
  EXPECT_EQ(RollSeries({"roll 2_07", "roll 2_08", "roll 3_01", "roll 3_02"}),
            (Names{"roll 2", "roll 2", "roll 3", "roll 3"}));
  EXPECT_EQ(RollSeries({"scan001", "scan002"}), (Names{"", ""}));
  EXPECT_EQ(RollSeries({"01", "02", "03"}), (Names{"", "", ""}));
  EXPECT_EQ(RollSeries({"bride1", "groom1", "cake1"}), (Names{"", "", ""}));  // no series: one roll
  EXPECT_EQ(RollSeries({"000451-01", "000451-02", "000452-01", "000452-02"}),
            (Names{"000451", "000451", "000452", "000452"}));
}

TEST(MemoryGateTest, StaysWithinItsBudgetAndLetsTheLargeThroughAlone) {
  MemoryGate gate(100);
  std::atomic<int> used = 0, most = 0, done = 0;
  std::vector<std::thread> workers;
  for (int i = 0; i < 6; ++i)
    workers.emplace_back([&, i] {
      for (int k = 0; k < 20; ++k) {
        const int bytes = i == 0 ? 500 : 30 + 5 * i;
        const auto admitted = gate.Admit(static_cast<std::uint64_t>(bytes), Cancel());
        ASSERT_TRUE(static_cast<bool>(admitted));
        const int now = used += bytes;
        if (bytes > 100) EXPECT_EQ(now, bytes) << "what is larger than the budget goes alone";
        if (bytes <= 100 && now > most) most = now;
        std::this_thread::yield();
        used -= bytes;
        ++done;
      }
    });
  for (std::thread& worker : workers) worker.join();
  EXPECT_EQ(done, 120);
  EXPECT_LE(most, 100);
}

TEST(MemoryGateTest, WaitingEndsWhenStopped) {
  MemoryGate gate(100);
  const auto first = gate.Admit(80, Cancel());
  const Cancel cancel;
  std::thread stopper([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(30));
    cancel.Request();
  });
  const auto begun = std::chrono::steady_clock::now();
  EXPECT_FALSE(static_cast<bool>(gate.Admit(80, cancel)));
  EXPECT_LT(std::chrono::steady_clock::now() - begun, std::chrono::milliseconds(500));
  stopper.join();
}

TEST(MemoryGateTest, WhatIsKeptIsGivenUpForWhatIsNeeded) {
  MemoryGate gate(100);
  auto kept = std::make_optional(gate.Admit(90, Cancel()));
  kept->ShrinkTo(40);
  {
    EXPECT_TRUE(static_cast<bool>(gate.Admit(60, Cancel(), [] { ADD_FAILURE() << "it fits"; })));
  }
  EXPECT_TRUE(static_cast<bool>(gate.Admit(70, Cancel(), [&] { kept.reset(); })));
  EXPECT_FALSE(kept.has_value());
}

TEST(MemoryGateTest, TheSettingInMebibytes) {
  EXPECT_EQ(BudgetBytes(3), 3u << 20);
  EXPECT_GT(BudgetBytes(0), 1u << 20);
}

TEST(DigestTest, PartsDoNotRunIntoEachOther) {
  EXPECT_NE(Digest().Add("ab").Add("c").Hex(), Digest().Add("a").Add("bc").Hex());
  EXPECT_NE(Digest().Add(0.0).Hex(), Digest().Add(-0.0).Hex());
  EXPECT_EQ(Digest().Add("x").Add(1).Hex(), Digest().Add("x").Add(1).Hex());
}

class StockTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "samelight-job-XXXXXX").string();
    ASSERT_NE(::mkdtemp(pattern.data()), nullptr);
    folder_ = fs::canonical(pattern);
  }
  void TearDown() override { fs::remove_all(folder_); }

  // A small JPEG whose bytes depend on `shade`.
  void Write(const std::string& path, int shade) const {
    image::RgbU8 picture(24, 16);
    for (std::size_t i = 0; i < picture.data().size(); ++i)
      picture.data()[i] = static_cast<std::uint8_t>(shade + static_cast<int>(i) % 40);
    Result<std::vector<std::uint8_t>> jpeg = codec::EncodeJpeg(picture, 90);
    ASSERT_TRUE(jpeg.ok());
    fs::create_directories((folder_ / path).parent_path());
    ASSERT_TRUE(WriteFileWhole(folder_ / path, *jpeg).ok());
  }
  Result<StockAnswer> Take(const std::vector<fs::path>& film, const std::vector<fs::path>& digital) const {
    NewRequest request{folder_ / "wedding.samelight", {}, {}};
    for (const fs::path& path : film) request.film.push_back(folder_ / path);
    for (const fs::path& path : digital) request.digital.push_back(folder_ / path);
    SilentProgress silent;
    return New(request, {silent, Cancel()});
  }
  std::unique_ptr<session::Session> Open(session::Access access = session::Access::kWrite) const {
    auto session = session::Session::Open(folder_ / "wedding.samelight", access);
    EXPECT_TRUE(session.ok());
    return std::move(session).value();
  }
  std::vector<std::string> Paths() const {
    std::vector<std::string> paths;
    const auto session = Open(session::Access::kRead);
    const auto photos = session->Photos();
    for (const Photo& photo : *photos) paths.push_back(photo.path);
    return paths;
  }
  fs::path folder_;
};

TEST_F(StockTest, RollsAreFoldersAndCountLikeAPerson) {
  for (const int i : {10, 9, 1, 2}) Write("film/roll 2/" + std::to_string(i) + ".jpg", i);
  Write("film/roll 1/A.JPG", 70);
  Write("digital/one/P2.jpg", 80);
  Write("digital/P10.jpg", 90);
  Write("digital/P9.jpg", 100);
  std::ofstream(folder_ / "digital" / "notes.txt") << "not a picture";
  std::ofstream(folder_ / "digital" / ".hidden.jpg") << "nor this";
  const auto answer = Take({"film"}, {"digital"});
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_EQ(answer->scans, 5);
  EXPECT_EQ(answer->frames, 3);
  EXPECT_EQ(answer->rolls, 2);
  EXPECT_EQ(answer->added, 8);
  EXPECT_TRUE(answer->problems.empty());
  EXPECT_THAT(Paths(),
              ElementsAre("film/roll 1/A.JPG", "film/roll 2/1.jpg", "film/roll 2/2.jpg", "film/roll 2/9.jpg",
                          "film/roll 2/10.jpg", "digital/one/P2.jpg", "digital/P9.jpg", "digital/P10.jpg"));
  const auto session = Open(session::Access::kRead);
  const auto rolls = session->Rolls();
  ASSERT_EQ(rolls->size(), 2u);
  EXPECT_EQ((*rolls)[0].name, "roll 1");
  EXPECT_EQ((*rolls)[1].name, "roll 2");
  EXPECT_THAT((*rolls)[1].scans, ElementsAre(PhotoId{2}, PhotoId{3}, PhotoId{4}, PhotoId{5}));
}

TEST_F(StockTest, ALaterCallAddsOnlyWhatIsNew) {
  Write("film/r/1.jpg", 1);
  Write("film/r/3.jpg", 3);
  Write("digital/a.jpg", 10);
  ASSERT_TRUE(Take({"film"}, {"digital"}).ok());
  Write("film/r/2.jpg", 2);
  Write("card 2/b.jpg", 20);
  const auto answer = Take({"film"}, {"card 2"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->added, 2);
  EXPECT_EQ(answer->changed, 0);
  EXPECT_EQ(answer->scans, 3);
  EXPECT_EQ(answer->frames, 2);
  EXPECT_EQ(answer->rolls, 1);
  const auto session = Open(session::Access::kRead);
  // The late scan takes its place between the others.
  EXPECT_THAT(session->Rolls()->front().scans, ElementsAre(PhotoId{1}, PhotoId{4}, PhotoId{2}));
}

TEST_F(StockTest, WhatWasSetAsideElsewhereIsStillTold) {
  Write("film/r/1.jpg", 1);
  fs::create_directories(folder_ / "card");
  std::ofstream(folder_ / "card" / "broken.jpg") << "no picture";
  const auto problems = [&] {
    const auto session = Open(session::Access::kRead);
    const auto told = session->Problems();
    return told->size();
  };
  auto answer = Take({"film"}, {"card"});
  ASSERT_TRUE(answer.ok());
  ASSERT_EQ(answer->problems.size(), 1u);
  Write("late/r/1.jpg", 30);
  answer = Take({"late"}, {});
  ASSERT_TRUE(answer.ok());
  EXPECT_TRUE(answer->problems.empty()) << "none of this call";
  EXPECT_EQ(problems(), 1u);
  answer = Take({}, {"card"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(problems(), 1u) << "not twice";
  Write("card/broken.jpg", 60);
  ASSERT_TRUE(Take({}, {"card"}).ok());
  EXPECT_EQ(problems(), 0u) << "it was copied again";
  std::ofstream(folder_ / "card" / "other.jpg") << "no picture";
  ASSERT_TRUE(Take({}, {"card"}).ok());
  EXPECT_EQ(problems(), 1u);
  fs::remove(folder_ / "card" / "other.jpg");
  ASSERT_TRUE(Take({"late"}, {}).ok());
  EXPECT_EQ(problems(), 0u) << "it is gone";
}

TEST_F(StockTest, MovedPicturesAreFoundAgainChangedOnesAreReadAnew) {
  Write("film/r/1.jpg", 1);
  Write("digital/a.jpg", 10);
  Write("digital/b.jpg", 20);
  ASSERT_TRUE(Take({"film"}, {"digital"}).ok());
  {
    // As after measuring: the hash is known.
    const auto session = Open();
    auto photos = session->Photos();
    auto change = session->Begin();
    for (Photo& photo : *photos) {
      ContentHash hash;
      const auto bytes = ReadFile(session->Absolute(photo.path), 1 << 20);
      hash.Add(bytes->data(), bytes->size());
      photo.hash = hash.Hex();
      ASSERT_TRUE(change->Put(photo).ok());
    }
    ASSERT_TRUE(change->Commit().ok());
  }
  fs::create_directories(folder_ / "elsewhere");
  fs::rename(folder_ / "digital" / "a.jpg", folder_ / "elsewhere" / "z.jpg");
  Write("digital/b.jpg", 150);
  const auto answer = Take({}, {"digital", "elsewhere"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->moved, 1);
  EXPECT_EQ(answer->changed, 1);
  EXPECT_EQ(answer->added, 0);
  EXPECT_EQ(answer->missing, 0);
  const auto session = Open(session::Access::kRead);
  const auto photos = session->Photos();
  ASSERT_EQ(photos->size(), 3u);
  EXPECT_EQ((*photos)[1].path, "elsewhere/z.jpg");
  EXPECT_FALSE((*photos)[1].hash.empty());
  EXPECT_TRUE((*photos)[2].hash.empty()) << "what was known of the old content does not hold";
  fs::rename(folder_ / "elsewhere" / "z.jpg", folder_ / "z.jpg");
  EXPECT_EQ(Take({}, {"digital"})->missing, 1) << "its folder was not looked at: it may be out of reach";
  EXPECT_EQ(Take({}, {"digital"})->frames, 2);
  EXPECT_EQ(Take({}, {"elsewhere", "digital"})->gone, 1) << "taken away";
  EXPECT_EQ(Take({}, {"digital"})->frames, 1);
  fs::rename(folder_ / "z.jpg", folder_ / "elsewhere" / "z.jpg");
  EXPECT_EQ(Take({}, {"elsewhere"})->added, 1) << "and back";
  EXPECT_EQ(Paths().size(), 3u);
}

TEST_F(StockTest, BrokenFilesAreNamedAndTheRestGoesOn) {
  Write("digital/good.jpg", 10);
  std::ofstream(folder_ / "digital" / "empty.jpg").flush();
  std::ofstream(folder_ / "digital" / "text.jpg") << "this is not a picture";
  const auto answer = Take({}, {"digital"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->frames, 1);
  ASSERT_EQ(answer->problems.size(), 2u);
  EXPECT_THAT(answer->problems[0].file, HasSubstr("empty.jpg"));
  EXPECT_THAT(answer->problems[1].file, HasSubstr("text.jpg"));
  for (const Problem& problem : answer->problems) {
    EXPECT_EQ(problem.what, "set aside");
    EXPECT_FALSE(problem.why.empty());
  }
}

TEST_F(StockTest, FilmInsideTheDigitalFolderIsNotDigital) {
  Write("all/film/1.jpg", 1);
  Write("all/a.jpg", 2);
  const auto answer = Take({"all/film"}, {"all"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->scans, 1);
  EXPECT_EQ(answer->frames, 1);
  EXPECT_EQ(Take({"all"}, {"all"}).error().code, ErrorCode::kInvalidArgument);
}

TEST_F(StockTest, SingleFilesAndMissingOnes) {
  Write("x/a.jpg", 1);
  Write("x/b.jpg", 2);
  const auto answer = Take({}, {"x/b.jpg"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->frames, 1);
  EXPECT_EQ(Take({}, {"x/none"}).error().code, ErrorCode::kNotFound);
  std::ofstream(folder_ / "x" / "c.txt") << "text";
  EXPECT_EQ(Take({}, {"x/c.txt"}).error().code, ErrorCode::kUnsupported);
  EXPECT_EQ(Take({}, {}).error().code, ErrorCode::kInvalidArgument);
  fs::create_directories(folder_ / "nothing");
  fs::remove(folder_ / "wedding.samelight");
  EXPECT_EQ(Take({}, {"nothing"}).error().code, ErrorCode::kNothingToDo);
}

TEST_F(StockTest, LinksThatGoInCirclesEnd) {
  Write("x/a.jpg", 1);
  fs::create_directory_symlink(folder_ / "x", folder_ / "x" / "again");
  const auto answer = Take({}, {"x"});
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->frames, 1);
}

TEST_F(StockTest, WhatAnOlderVersionMeasuredIsMeasuredAgainAndOnlyThat) {
  for (const int i : {1, 2, 3}) Write("digital/f" + std::to_string(i) + ".jpg", 20 * i);
  ASSERT_TRUE(Take({}, {"digital"}).ok());
  const auto session = Open();
  SilentProgress silent;
  EXPECT_EQ(MeasureAll(*session, 0, {silent, Cancel()})->measured, 3);
  EXPECT_EQ(MeasureAll(*session, 0, {silent, Cancel()})->measured, 0);
  const auto photos = session->Photos();
  const fs::path file = AnalysisFile(*session, photos->front());
  auto bytes = *ReadFile(file, 1 << 24);
  --bytes[8];  // the version follows the magic of 8 bytes
  ASSERT_TRUE(WriteFileWhole(file, bytes).ok());
  EXPECT_EQ(MeasureAll(*session, 0, {silent, Cancel()})->measured, 1);
  EXPECT_TRUE(measure::ReadCachedFacts(file).ok());
}

TEST_F(StockTest, ALateRollAndALateCardCostOnlyWhatIsNew) {
  for (const int i : {1, 2, 3}) Write("digital/f" + std::to_string(i) + ".jpg", 20 * i);
  for (const int i : {1, 2}) Write("film/r1/" + std::to_string(i) + ".jpg", 5 * i);
  ASSERT_TRUE(Take({"film"}, {"digital"}).ok());
  SilentProgress silent;
  EXPECT_EQ(MeasureAll(*Open(), 0, {silent, Cancel()})->measured, 5);
  for (const int i : {1, 2, 3}) Write("film/r2/" + std::to_string(i) + ".jpg", 7 * i);
  ASSERT_EQ(Take({"film"}, {"digital"})->added, 3);
  EXPECT_EQ(MeasureAll(*Open(), 0, {silent, Cancel()})->measured, 3);
  Write("card/late.jpg", 90);
  ASSERT_EQ(Take({"film"}, {"digital", "card"})->added, 1);
  EXPECT_EQ(MeasureAll(*Open(), 0, {silent, Cancel()})->measured, 1);
  EXPECT_EQ(Open(session::Access::kRead)->Rolls()->size(), 2u);
}

// Twelve invented scans of one series.
struct Series {
  std::vector<Photo> photos = std::vector<Photo>(12);
  std::unordered_map<PhotoId, record::Measured> measured;
  std::vector<record::Roll> rolls = {{RollId{1}, "order 77", "", ""}};
  Series() {
    for (std::size_t i = 0; i < photos.size(); ++i) {
      photos[i] = Named(static_cast<std::int64_t>(i) + 1, "film/" + std::to_string(i), Role::kScan);
      photos[i].width_px = i % 4 == 3 ? 2000 : 3000;  // some are upright
      photos[i].height_px = i % 4 == 3 ? 3000 : 2000;
      photos[i].capture.time_us = 1'780'000'000'000'000;  // 2026-05-28
      measured[photos[i].id].grain = 0.008 * (1 + 0.02 * static_cast<double>(i % 5));
      rolls[0].scans.push_back(photos[i].id);
    }
  }
  std::vector<record::Roll> Standing(const session::Standing& standing = {}) {
    return StandingRolls(rolls, standing, measured, photos);
  }
  std::vector<FilmChange> Changes() {
    std::vector<const Photo*> scans;
    std::vector<const record::Measured*> known;
    for (const Photo& photo : photos) {
      scans.push_back(&photo);
      known.push_back(&measured[photo.id]);
    }
    return FilmChanges(scans, known);
  }
};

TEST(RollsTest, OneFilmIsOneRollAndItsFactsAreRead) {
  Series s;
  const auto rolls = s.Standing();
  ASSERT_EQ(rolls.size(), 1u);
  EXPECT_EQ(rolls[0].format, "35 mm or 6x9");
  EXPECT_EQ(rolls[0].scan_day, "2026-05-28");
  EXPECT_FALSE(rolls[0].black_and_white);
  EXPECT_TRUE(s.Changes().empty());
}

TEST(RollsTest, ASeriesOfTwoFilmsIsToldApart) {
  Series shape;
  for (int i = 7; i < 12; ++i) shape.photos[i].width_px = 2464, shape.photos[i].height_px = 2000;
  auto rolls = shape.Standing();
  ASSERT_EQ(rolls.size(), 2u);
  EXPECT_EQ(rolls[0].scans.size(), 7u);
  EXPECT_EQ(rolls[1].name, "order 77 (2)");
  EXPECT_EQ(rolls[1].format, "6x7");
  EXPECT_EQ(shape.photos[8].roll, rolls[1].id);
  EXPECT_EQ(shape.photos[8].roll_position, 1);
  EXPECT_EQ(shape.Standing()[1].id, rolls[1].id) << "the same each time";

  Series grey;
  for (int i = 0; i < 4; ++i) grey.measured[PhotoId{i + 1}].black_and_white = true;
  rolls = grey.Standing();
  ASSERT_EQ(rolls.size(), 2u);
  EXPECT_TRUE(rolls[0].black_and_white);
  EXPECT_FALSE(rolls[1].black_and_white);

  Series grain;
  for (int i = 6; i < 12; ++i) grain.measured[PhotoId{i + 1}].grain *= 1.8;
  EXPECT_EQ(grain.Standing().size(), 1u) << "grain alone is not certain";
  ASSERT_EQ(grain.Changes().size(), 1u);
  EXPECT_EQ(grain.Changes()[0].at, 6u);
  EXPECT_FALSE(grain.Changes()[0].certain);

  Series odd;  // one cropped scan, one that looks black-and-white, one with coarse grain
  odd.photos[4].height_px = 3000;
  odd.measured[PhotoId{7}].black_and_white = true;
  odd.measured[PhotoId{9}].grain = 0.05;
  EXPECT_EQ(odd.Standing().size(), 1u);
  EXPECT_TRUE(odd.Changes().empty());
}

TEST(RollsTest, APersonCutsAndJoins) {
  Series s;
  s.rolls[0].scans.resize(8);
  s.rolls.push_back({RollId{2}, "order 78", "", ""});
  for (int i = 8; i < 12; ++i) s.rolls[1].scans.push_back(PhotoId{i + 1});
  session::Standing standing = session::Fold({SplitAt(RollId{1}, PhotoId{4})});
  auto rolls = s.Standing(standing);
  ASSERT_EQ(rolls.size(), 3u);
  EXPECT_EQ(rolls[1].name, "order 77 (2)");
  EXPECT_THAT(rolls[1].scans, ElementsAre(PhotoId{4}, PhotoId{5}, PhotoId{6}, PhotoId{7}, PhotoId{8}));
  const RollId part = rolls[1].id;
  standing = session::Fold(
      {SplitAt(RollId{1}, PhotoId{4}), JoinTo(part, RollId{2}), session::RollFact{part, "name", "evening"}});
  rolls = s.Standing(standing);
  ASSERT_EQ(rolls.size(), 2u);
  EXPECT_EQ(rolls[1].name, "evening");
  EXPECT_EQ(rolls[1].scans.size(), 9u);
  EXPECT_EQ(s.photos[11].roll, part);
  EXPECT_EQ(s.photos[11].roll_position, 8);
  standing = session::Fold({JoinTo(RollId{2}, RollId{1})});  // in the order in which they came
  rolls = s.Standing(standing);
  ASSERT_EQ(rolls.size(), 1u);
  EXPECT_EQ(rolls[0].scans.front(), PhotoId{1});
  EXPECT_EQ(rolls[0].scans.back(), PhotoId{12});
}

// Words on a session with two scans and three frames in two lights.
class WordsTest : public StockTest {
 protected:
  void SetUp() override {
    StockTest::SetUp();
    for (const int i : {1, 2}) Write("film/roll 1/s" + std::to_string(i) + ".jpg", i);
    for (const int i : {1, 2, 3}) Write("digital/f" + std::to_string(i) + ".jpg", 20 * i);
    ASSERT_TRUE(Take({"film"}, {"digital"}).ok());
    const auto session = Open();
    auto change = session->Begin();
    session::PairResult pairs;
    pairs.lights = {{LightId{1}, "light 1", {PhotoId{3}, PhotoId{4}}, {}, 180, 0},
                    {LightId{2}, "light 2", {PhotoId{5}}, {}, 250, 0}};
    ASSERT_TRUE(change->ReplacePairs(pairs).ok());
    ASSERT_TRUE(change->Commit().ok());
  }
  session::Standing After(const PairRequest& request) {
    const auto session = Open();
    const Status said = SayPairWords(*session, request);
    EXPECT_TRUE(said.ok()) << said.error().Text();
    return session::Fold(*session->Words());
  }
  Error Refusal(const PairRequest& request) {
    const auto session = Open();
    const std::size_t before = session->History()->size();
    const Status said = SayPairWords(*session, request);
    EXPECT_FALSE(said.ok());
    EXPECT_EQ(session->History()->size(), before) << "nothing may be said when a part is not understood";
    return said.ok() ? Error{} : said.error();
  }
};

TEST_F(WordsTest, EveryWordOfThePairCommandStands) {
  PairRequest request;
  request.join = {{"s1", "f1"}};
  request.refuse = {{"s2.jpg", "digital/f2.jpg"}};
  request.bar = {"s2"};
  request.roll = {{"roll 1",
                   {"stock=x", "push=-1.5", "black-and-white=yes", "expired=yes", "format=6x7", "rating=200",
                    "scan-day=2026-05-30"}}};
  request.light = {{"light 1", {"name=mill", "split=f2"}}, {"light 2", {"join=light 1"}}};
  request.clock = {{"unknown body", "-3600.5"}};  // the files name none
  const session::Standing now = After(request);
  EXPECT_EQ(now.joined.at(PhotoId{1}), PhotoId{3});
  EXPECT_TRUE(now.refused.contains({PhotoId{2}, PhotoId{4}}));
  EXPECT_TRUE(now.barred.contains(PhotoId{2}));
  EXPECT_EQ(now.light_names.at(PhotoId{3}), "mill");
  EXPECT_EQ(now.clock_offset_s.at("unknown body"), -3600.5);
  ASSERT_EQ(now.together.size(), 1u);
  EXPECT_THAT(now.together[0], ElementsAre(PhotoId{3}, PhotoId{4}, PhotoId{5}));
  const auto session = Open();
  auto photos = *session->Photos();
  const auto rolls = StandingRolls(*session->Rolls(), now, {}, photos);
  EXPECT_EQ(rolls[0].stock, "x");
  EXPECT_EQ(rolls[0].push_ev, -1.5);
  EXPECT_EQ(rolls[0].format, "6x7");
  EXPECT_EQ(rolls[0].rating_iso, 200);
  EXPECT_EQ(rolls[0].scan_day, "2026-05-30");
  EXPECT_TRUE(rolls[0].black_and_white);
  EXPECT_TRUE(rolls[0].expired);
  EXPECT_EQ(session->History()->size(), 1u) << "one command is one step";
  EXPECT_THAT(session->History()->front().what, HasSubstr("s1 goes with f1"));
}

// Coloured lamps keep the scans of their light out of the look until a person lets one in.
TEST_F(WordsTest, APersonOutranksWhatIsHeldOfALight) {
  record::Light lamps{LightId{1}, "light 1", {PhotoId{3}}, {PhotoId{1}, PhotoId{2}}, 180, 0};
  lamps.narrow_band = true;
  const auto kept_out = [&](const PairRequest& request) { return KeptOut(After(request), {lamps}); };
  EXPECT_THAT(kept_out({}), ElementsAre(PhotoId{1}, PhotoId{2}));
  PairRequest in;
  in.unbar = {"s1"};
  EXPECT_THAT(kept_out(in), ElementsAre(PhotoId{2}));
  PairRequest out;
  out.bar = {"s1"};
  EXPECT_THAT(kept_out(out), ElementsAre(PhotoId{1}, PhotoId{2}));
}

TEST_F(WordsTest, WhatIsNotUnderstoodIsRefusedAsAWhole) {
  PairRequest good;
  good.join = {{"s1", "f1"}};
  const auto with = [&](auto set) {
    PairRequest request = good;
    set(request);
    return Refusal(request);
  };
  EXPECT_EQ(with([](PairRequest& r) { r.join.push_back({"f1", "s1"}); }).code, ErrorCode::kNotFound);
  EXPECT_EQ(with([](PairRequest& r) { r.bar = {"s9"}; }).code, ErrorCode::kNotFound);
  EXPECT_THAT(with([](PairRequest& r) { r.roll = {{"roll 1", {"push=9"}}}; }).what, HasSubstr("EV"));
  EXPECT_EQ(with([](PairRequest& r) {
              r.roll = {{"roll 1", {"colour=red"}}};
            }).code,
            ErrorCode::kInvalidArgument);
  EXPECT_EQ(with([](PairRequest& r) { r.roll = {{"roll 7", {"stock=x"}}}; }).code, ErrorCode::kNotFound);
  EXPECT_THAT(with([](PairRequest& r) {
                r.roll = {{"roll 1", {"expired=old"}}};
              }).what,
              HasSubstr("yes or no"));
  EXPECT_THAT(with([](PairRequest& r) { r.roll = {{"roll 1", {"rating=0"}}}; }).what, HasSubstr("ISO"));
  EXPECT_THAT(with([](PairRequest& r) {
                r.roll = {{"roll 1", {"scan-day=2026-02-30"}}};
              }).what,
              HasSubstr("date"));
  EXPECT_THAT(with([](PairRequest& r) { r.roll = {{"roll 1", {"split=s1"}}}; }).what, HasSubstr("first"));
  EXPECT_EQ(with([](PairRequest& r) { r.roll = {{"roll 1", {"join=roll 7"}}}; }).code, ErrorCode::kNotFound);
  EXPECT_EQ(with([](PairRequest& r) {
              r.light = {{"light 1", {"split=f3"}}};
            }).code,
            ErrorCode::kInvalidArgument);
  EXPECT_EQ(with([](PairRequest& r) {
              r.light = {{"light 1", {"join=light 1"}}};
            }).code,
            ErrorCode::kInvalidArgument);
  EXPECT_EQ(with([](PairRequest& r) { r.clock = {{"b", "soon"}}; }).code, ErrorCode::kInvalidArgument);
  const Error body = with([](PairRequest& r) { r.clock = {{"b", "60"}}; });
  EXPECT_EQ(body.code, ErrorCode::kNotFound);
  EXPECT_THAT(body.todo, HasSubstr("unknown body")) << "the bodies there are";
}

TEST_F(WordsTest, MatchWordsAreSaidOnceAndChecked) {
  const auto session = Open();
  MatchRequest request;
  request.follow_percent = 60;
  request.settings = {{"tolerance", 3}};
  ASSERT_TRUE(SayMatchWords(*session, request).ok());
  ASSERT_TRUE(SayMatchWords(*session, request).ok());
  EXPECT_EQ(session->History()->size(), 1u) << "what stands is not said again";
  const session::Standing now = session::Fold(*session->Words());
  EXPECT_EQ(session::SettingOf(now, "follow"), 60);
  EXPECT_EQ(session::SettingOf(now, "tolerance"), 3);
  request = {};
  request.follow_percent = 101;
  EXPECT_THAT(SayMatchWords(*session, request).error().what, HasSubstr("0 % to 100 %"));
  request = {};
  request.follow_skin_percent = 40;
  request.of_frames = {"f2"};
  ASSERT_TRUE(SayMatchWords(*session, request).ok());
  EXPECT_EQ(session::Fold(*session->Words()).follow_skin.at(PhotoId{4}), 40);
}

TEST_F(WordsTest, UndoAndRedoTellWhatTheyTurn) {
  After({.session = {}, .join = {{"s1", "f1"}}});
  const fs::path file = folder_ / "wedding.samelight";
  EXPECT_EQ(Undo(file)->what, "s1 goes with f1");
  EXPECT_EQ(Undo(file)->what, "");
  const auto redone = Redo(file);
  EXPECT_EQ(redone->what, "s1 goes with f1");
  EXPECT_EQ(redone->standing, 1);
  EXPECT_EQ(redone->taken_back, 0);
}

}  // namespace
}  // namespace samelight::job
