// Invented: two films of different grain in one session.
#include "job/film_traits.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "base/task_pool.h"
#include "color/space.h"
#include "job/delivery_testing.h"
#include "job/picture_grain.h"

namespace samelight::job {
namespace {

class FilmTraitsTest : public testing::DeliveryTest {
 protected:
  // Steps of grey whose density scatters by `sigma`, each layer by itself.
  void WriteScan(const std::string& name, double sigma, unsigned seed) const {
    constexpr int kWidth = 768, kHeight = 480, kStep = 48;
    std::mt19937 dice(seed);
    std::normal_distribution<double> noise(0, sigma);
    image::RgbU16 picture(kWidth, kHeight);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x)
        for (int c = 0; c < 3; ++c) {
          const double density = 0.25 + 0.1 * (y / kStep) + noise(dice);
          const double encoded = color::Encode(color::Space::kSrgb, std::pow(10, -density));
          picture.at(x, y)[c] =
              static_cast<std::uint16_t>(std::lround(65535 * std::clamp(encoded, 0.0, 1.0)));
        }
    codec::WriteOptions options;
    options.format = codec::Format::kTiff16;
    fs::create_directories((folder_ / "film" / name).parent_path());
    ASSERT_TRUE(codec::WritePicture(folder_ / "film" / name, picture, options).ok());
  }
};

TEST_F(FilmTraitsTest, AFrameGetsTheGrainOfTheRollItsLightWasTakenOn) {
  WriteScan("a/1.tif", 0.01, 1);
  WriteScan("b/1.tif", 0.03, 2);
  for (const int i : {1, 2, 3, 4}) WriteJpeg(FrameFile(i), 96, 64, i);
  SilentProgress silent;
  ASSERT_TRUE(New({file(), {folder_ / "film"}, {folder_ / "digital"}}, {silent, Cancel()}).ok());
  std::vector<PhotoId> frames, scans;
  {
    const auto session = Open();
    auto photos = session->Photos();
    auto change = session->Begin();
    session::MatchResult match;
    for (record::Photo& photo : *photos) {
      photo.hash = codec::ReadPicture(session->Absolute(photo.path))->photo.hash;
      ASSERT_TRUE(change->Put(photo).ok());
      (photo.role == record::Role::kScan ? scans : frames).push_back(photo.id);
      if (photo.role == record::Role::kScan) continue;
      match.frames.emplace_back();
      match.frames.back().frame = photo.id;
      match.frames.back().correction.frame = photo.id;
    }
    session::PairResult pairs;
    pairs.lights = {{LightId{1}, "mill", {frames[0]}, {scans[0]}, 180, 0},
                    {LightId{2}, "hall", {frames[1], frames[2]}, {scans[1]}, 250, 0},
                    {LightId{3}, "night", {frames[3]}, {}, 300, 0}};
    ASSERT_TRUE(change->ReplacePairs(pairs).ok() && change->ReplaceMatch(match).ok() &&
                change->Commit().ok());
  }
  const auto session = Open();
  auto goods = GoodsOf(*session);
  ASSERT_TRUE(goods.ok());
  const auto plan = PlanTraits(*session, *goods, {});
  ASSERT_TRUE(plan.ok());
  const auto digests = [&] {
    std::vector<std::string> all;
    for (const Parcel& parcel : Parcels(*session, *goods, {}, out(), plan->digest))
      all.push_back(parcel.delivery.digest);
    return all;
  };
  record::GrainModel whole;
  for (const char* from : {"scans", "what was kept", "scans, by one worker"}) {
    SCOPED_TRACE(from);
    const bool by_one = std::string(from).ends_with("worker");
    SetWorkers(by_one ? 1 : 3);
    if (by_one) fs::remove_all(session->cache_folder());
    const auto traits = MeasureTraits(*session, *goods, *plan, 0, {silent, Cancel()});
    SetWorkers(0);
    ASSERT_TRUE(traits.ok()) << traits.error().Text();
    if (whole.patches == 0) whole = traits->grain;
    EXPECT_EQ(traits->grain, whole) << "to the last bit";
    const auto strength = [&](std::size_t frame) {
      const record::GrainModel& grain = traits->GrainOf(frames[frame]);
      return grain.sigma[1].at(grain.sigma[1].size() / 2);
    };
    EXPECT_NEAR(strength(0), 0.01, 0.001);
    EXPECT_NEAR(strength(1), 0.03, 0.003);
    EXPECT_EQ(strength(2), strength(1));
    EXPECT_EQ(&traits->GrainOf(frames[3]), &traits->grain) << "no scan tells its roll";
  }
  // A light whose scans turn out to be of the other roll is delivered anew.
  const std::vector<std::string> before = digests();
  std::swap(goods->pairs.lights[0].scans, goods->pairs.lights[2].scans);
  const std::vector<std::string> after = digests();
  ASSERT_EQ(before.size(), 4u);
  EXPECT_NE(before[0], after[0]);
  EXPECT_EQ(before[1], after[1]);
  EXPECT_NE(before[3], after[3]);
}

TEST(SameFilmTest, OnlyRollsAndWhatLightsHoldCount) {
  Book a;
  a.lights = {{LightId{1}, "mill", {PhotoId{1}}, {PhotoId{2}}, 180, 0}};
  a.rolls.emplace_back();
  a.rolls[0].scans = {PhotoId{2}};
  Book b = a;
  b.lights[0].name = "hall";
  b.rolls[0].stock = "a stock";
  EXPECT_TRUE(SameFilm(a, b));
  b.lights[0].scans.clear();
  EXPECT_FALSE(SameFilm(a, b));
  b = a;
  b.rolls[0].black_and_white = true;
  EXPECT_FALSE(SameFilm(a, b));
}

}  // namespace
}  // namespace samelight::job
