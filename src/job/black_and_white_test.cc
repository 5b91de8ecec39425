// Invented: a known tone between frames and scans comes back from their cached pictures.
#include "job/black_and_white.h"

#include <gtest/gtest.h>

#include <cmath>

#include "color/space.h"
#include "job/delivery_testing.h"
#include "job/film_traits.h"
#include "job/said.h"
#include "look/evaluate.h"
#include "measure/cache.h"

namespace samelight::job {
namespace {

class BlackAndWhiteTest : public testing::DeliveryTest {
 protected:
  // Caches a picture of 60 x 40 as the measuring stage would.
  static void Cache(const session::Session& session, const record::Photo& photo, const image::RgbF& pixels) {
    measure::Cached cached;
    cached.analysis.pixels = pixels;
    cached.analysis.labels.Resize(pixels.width(), pixels.height());
    cached.analysis.faces.Resize(pixels.width(), pixels.height());
    fs::create_directories(session.cache_folder());
    const Status written = measure::WriteCached(AnalysisFile(session, photo), cached);
    ASSERT_TRUE(written.ok()) << written.error().Text();
  }
};

TEST_F(BlackAndWhiteTest, TheToneOfTheRollComesBack) {
  Make(2, 2);
  const auto session = Open();
  auto goods = GoodsOf(*session);
  ASSERT_TRUE(goods.ok());
  goods->rolls.front().black_and_white = true;
  // The roll's print: lifted blacks, soft whites, steeper between.
  const auto tone = [](double luma) { return 0.08 + 0.84 * luma * luma * (3 - 2 * luma); };
  const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  for (int i = 0; i < 2; ++i) {
    image::RgbF frame(60, 40), scan(60, 40);
    const record::FrameSolution& solution = goods->match.frames[static_cast<std::size_t>(i)];
    const look::Resolved resolved = look::Resolve(solution.correction);
    for (int y = 0; y < 40; ++y)
      for (int x = 0; x < 60; ++x) {
        const double v = std::pow((x + 60.0 * y) / 2400, 2.2);
        for (int c = 0; c < 3; ++c) frame.at(x, y)[c] = static_cast<float>(v * (c == 1 ? 1.0 : 0.9));
        const float* p = frame.at(x, y);
        const Vec3 out = Mul(srgb, look::Evaluate(resolved, {p[0], p[1], p[2]}));
        constexpr double kWeight[3] = {0.2126, 0.7152, 0.0722};
        double luma = 0;
        for (int c = 0; c < 3; ++c)
          luma += kWeight[c] * color::Encode(color::Space::kSrgb, std::clamp(out[c], 0.0, 1.0));
        const double grey = color::Decode(color::Space::kSrgb, tone(luma));
        for (int c = 0; c < 3; ++c) scan.at(x, y)[c] = static_cast<float>(grey);
      }
    for (const record::Photo& photo : goods->photos) {
      if (photo.id == solution.frame) Cache(*session, photo, frame);
      if (photo.id == goods->pairs.pairs[static_cast<std::size_t>(i)].scan) Cache(*session, photo, scan);
    }
  }
  const std::vector<float> found = BlackAndWhiteTone(*session, *goods);
  ASSERT_EQ(found.size(), 65u);
  // Where the frames have colours at all.
  for (std::size_t k = 1; k < found.size(); ++k) EXPECT_GE(found[k], found[k - 1]);
  for (std::size_t k = 10; k < 56; ++k) EXPECT_NEAR(found[k], tone(static_cast<double>(k) / 64), 0.03) << k;
  // In another space the same picture: a grey of that space is the same grey.
  const std::vector<float> there = ToneIn(color::Space::kAdobeRgb, found);
  const double luma = 0.5,
               in = color::Encode(color::Space::kAdobeRgb, color::Decode(color::Space::kSrgb, luma));
  EXPECT_NEAR(color::Decode(color::Space::kAdobeRgb, there[static_cast<std::size_t>(std::lround(in * 256))]),
              color::Decode(color::Space::kSrgb, found[32]), 0.005);
  goods->rolls.front().black_and_white = false;
  EXPECT_TRUE(BlackAndWhiteTone(*session, *goods).empty());
}

// Colour orders take grain and acutance from the colour rolls, black-and-white ones from the others.
TEST_F(BlackAndWhiteTest, GrainComesFromTheRollsOfItsKind) {
  for (const char* name : {"b1.jpg", "b2.jpg"})
    WriteJpeg(folder_ / "film" / "roll 2" / name, 96, 64, name[1]);
  Make(4, 2);
  const auto session = Open();
  const auto rolls = session->Rolls();
  ASSERT_EQ(rolls->size(), 2u);
  ASSERT_TRUE(Say(*session, {session::RollFact{(*rolls)[1].id, "black-and-white", "yes"}}, "said").ok());
  const auto goods = GoodsOf(*session);
  ASSERT_TRUE(goods.ok());
  record::Order order;
  std::string digest;
  for (const auto& [tones, roll] : {std::pair(record::Tones::kColour, (*rolls)[0].id),
                                    std::pair(record::Tones::kBlackAndWhite, (*rolls)[1].id)}) {
    order.tones = tones;
    const auto plan = PlanTraits(*session, *goods, order);
    ASSERT_TRUE(plan.ok());
    EXPECT_EQ(plan->scans.size(), 2u);
    for (const record::Photo& scan : plan->scans) EXPECT_EQ(scan.roll, roll);
    EXPECT_NE(plan->traits, digest) << "neither is taken for the other in the cache";
    digest = plan->traits;
  }
}

}  // namespace
}  // namespace samelight::job
