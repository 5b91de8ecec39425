#include "measure/measure.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <thread>

#include "measure/testing.h"

namespace samelight::measure {
namespace {

using record::RegionKind;

TEST(MeasurePicture, GivesAnAnalysisOfOneSize) {
  for (const auto& [w, h] : {std::pair{3000, 2000}, {2000, 3000}, {1024, 700}, {333, 217}, {16, 40}}) {
    Result<MeasuredPicture> m = MeasurePicture(PaintedScene(w, h, 1), Jpeg(), nullptr);
    ASSERT_TRUE(m.ok()) << m.error().Text();
    const int wanted = std::min(std::max(w, h), kAnalysisLongSide);
    EXPECT_EQ(std::max(m->analysis.pixels.width(), m->analysis.pixels.height()), wanted);
    EXPECT_EQ(m->analysis.labels.width(), m->analysis.pixels.width());
    EXPECT_EQ(m->analysis.labels.height(), m->analysis.pixels.height());
    EXPECT_EQ(m->analysis.faces.pixels(), m->analysis.pixels.pixels());
    EXPECT_TRUE(m->measured.note.empty() || std::min(w, h) < 20) << m->measured.note;
    EXPECT_FALSE(m->measured.black_and_white);
    EXPECT_EQ(m->measured.inner_right, 1);
  }
}

TEST(MeasurePicture, ClippedPixelsAreNoEvidence) {
  image::RgbF p = PaintedScene(1024, 683, 1);
  Fill(p, 0.3, 0.6, 0.4, 0.8, {1, 1, 1}, 0);
  Result<MeasuredPicture> m = MeasurePicture(p, Jpeg(), nullptr);
  ASSERT_TRUE(m.ok());
  EXPECT_EQ(*m->analysis.labels.at(358, 478), static_cast<int>(RegionKind::kMasked));
  EXPECT_NEAR(m->measured.clipped_high, 0.02, 0.001);
}

TEST(MeasurePicture, ScansLoseTheirBorderFramesDoNot) {
  image::RgbF p = PaintedScene(1500, 1000, 1);
  for (const auto& [l, t, r, b] :
       {std::array{0.0, 0.0, 1.0, 0.04}, {0.0, 0.96, 1.0, 1.0}, {0.0, 0.0, 0.03, 1.0}, {0.97, 0.0, 1.0, 1.0}})
    Fill(p, l, t, r, b, {0.003, 0.003, 0.003}, 0.2);
  Result<MeasuredPicture> scan = MeasurePicture(p, Jpeg(record::Role::kScan), nullptr);
  Result<MeasuredPicture> frame = MeasurePicture(p, Jpeg(), nullptr);
  ASSERT_TRUE(scan.ok() && frame.ok());
  EXPECT_NEAR(scan->measured.inner_left, 0.03, 0.006);
  EXPECT_NEAR(scan->measured.inner_bottom, 0.96, 0.008);
  EXPECT_EQ(*scan->analysis.labels.at(5, 300), static_cast<int>(RegionKind::kMasked));
  EXPECT_EQ(frame->measured.inner_left, 0);
  EXPECT_NE(*frame->analysis.labels.at(5, 300), static_cast<int>(RegionKind::kMasked));
}

// A raw frame at another exposure is the same picture: labels must not change.
TEST(MeasurePicture, RawLabelsDoNotDependOnExposure) {
  record::Photo raw;
  raw.encoding = record::Encoding::kRaw;
  const image::RgbF p = PaintedScene(1024, 683, 2);
  Result<MeasuredPicture> a = MeasurePicture(WithGains(p, {0.6, 0.6, 0.6}), raw, nullptr);
  Result<MeasuredPicture> b = MeasurePicture(WithGains(p, {0.15, 0.15, 0.15}), raw, nullptr);
  ASSERT_TRUE(a.ok() && b.ok());
  int differ = 0;
  for (std::size_t i = 0; i < a->analysis.labels.pixels(); ++i)
    differ += a->analysis.labels.data()[i] != b->analysis.labels.data()[i];
  EXPECT_LT(differ, 1024 * 683 / 100);
  EXPECT_NEAR(a->measured.light.log2_level - b->measured.light.log2_level, 2, 1e-3);
  EXPECT_NEAR(a->measured.light.mired, b->measured.light.mired, 0.5);
}

TEST(MeasurePicture, SurvivesWhatIsNoNumber) {
  image::RgbF p = PaintedScene(400, 300, 1);
  for (int x = 0; x < 400; x += 3) {
    p.at(x, 100)[0] = std::nanf("");
    p.at(x, 150)[1] = std::numeric_limits<float>::infinity();
    p.at(x, 200)[2] = -1e30f;
  }
  record::Photo raw;
  raw.encoding = record::Encoding::kRaw;
  for (const record::Photo& photo : {Jpeg(), Jpeg(record::Role::kScan), raw}) {
    Result<MeasuredPicture> m = MeasurePicture(p, photo, nullptr);
    ASSERT_TRUE(m.ok());
    for (const float v : m->analysis.pixels.data()) ASSERT_TRUE(std::isfinite(v));
    for (const double v : {m->measured.light.neutral[0], m->measured.light.neutral[2],
                           m->measured.light.mired, m->measured.light.duv, m->measured.light.log2_level,
                           m->measured.light.confidence, m->measured.sharpness, m->measured.grain})
      EXPECT_TRUE(std::isfinite(v));
    for (const record::RegionStat& s : m->measured.regions)
      for (const Vec3& q : s.quantiles)
        for (const double v : q) EXPECT_TRUE(std::isfinite(v));
  }
}

TEST(MeasurePicture, NamesFaultyPictures) {
  EXPECT_EQ(MeasurePicture(image::RgbF(10, 300), Jpeg(), nullptr).error().code, ErrorCode::kUnsupported);
  EXPECT_FALSE(MeasurePicture(image::RgbF(), Jpeg(), nullptr).ok());
  image::RgbF black(300, 200);
  std::fill(black.data().begin(), black.data().end(), 0.f);
  Result<MeasuredPicture> m = MeasurePicture(black, Jpeg(record::Role::kScan), nullptr);
  ASSERT_TRUE(m.ok());
  EXPECT_EQ(m->measured.note, "black: nothing was exposed");
  EXPECT_EQ(m->measured.clipped_low, 1);
  const image::RgbF soft = image::Blur(PaintedScene(2000, 1300, 1), 9);
  EXPECT_EQ(MeasurePicture(soft, Jpeg(), nullptr)->measured.note, "unsharp: no fine edge anywhere");
}

TEST(MeasurePicture, FindsFacesAndTheirSkin) {
  Result<std::unique_ptr<FaceFinder>> finder =
      FaceFinder::Open(std::filesystem::path(SAMELIGHT_ASSETS_DIR) / "models/blazeface.onnx");
  if (!finder.ok()) GTEST_SKIP() << finder.error().Text();
  const image::RgbF p = ReadAsset("people/sample6.jpg");
  if (p.empty()) GTEST_SKIP() << "no photographs of people; run scripts/fetch-assets";
  Result<MeasuredPicture> m = MeasurePicture(p, Jpeg(), finder->get());
  ASSERT_TRUE(m.ok());
  ASSERT_EQ(m->measured.faces.size(), 4u);
  for (int face = 0; face < 4; ++face) {
    const auto at = std::find_if(m->measured.regions.begin(), m->measured.regions.end(), [&](const auto& s) {
      return s.kind == RegionKind::kSkin && s.face == face;
    });
    ASSERT_NE(at, m->measured.regions.end()) << face;
    EXPECT_GT(at->area, 0.004);
    EXPECT_GT(at->quantiles[2][0], at->quantiles[2][2]);
  }
}

TEST(MeasurePicture, IsTheSameFromManyThreads) {
  const image::RgbF p = PaintedScene(700, 500, 4);
  std::vector<Result<MeasuredPicture>> all;
  for (int i = 0; i < 4; ++i) all.emplace_back(Error{});
  std::vector<std::thread> threads;
  for (auto& one : all)
    threads.emplace_back([&p, &one] { one = MeasurePicture(p, Jpeg(record::Role::kScan), nullptr); });
  for (std::thread& t : threads) t.join();
  for (const auto& one : all) {
    ASSERT_TRUE(one.ok());
    EXPECT_EQ(one->analysis.labels.data(), all[0]->analysis.labels.data());
    EXPECT_EQ(one->measured.light.mired, all[0]->measured.light.mired);
  }
}

}  // namespace
}  // namespace samelight::measure
