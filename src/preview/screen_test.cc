// What reaches the screen, against exact formulas: IEC 61966-2-1 (sRGB), SMPTE EG 432-1 primaries (Display
// P3) through the ICC profiles that LittleCMS makes, and the exact evaluation of the look.
#include "preview/screen.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "codec/profile.h"
#include "color/difference.h"
#include "color/lab.h"
#include "preview/corrected.h"
#include "preview/testing.h"
#include "render/bake.h"

namespace samelight::preview {
namespace {

Sampled SomeDisplay() {
  Sampled sampled;
  sampled.linear = SomeScene(120, 80);
  const Mat3 to = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  for (std::size_t i = 0; i < sampled.linear.data().size(); i += 3) {
    float* p = sampled.linear.data().data() + i;
    Vec3 v{std::min(p[0], 1.0f), std::min(p[1], 1.0f), std::min(p[2], 1.0f)};
    v = Mul(to, v);
    for (int c = 0; c < 3; ++c) p[c] = static_cast<float>(v[c]);
  }
  return sampled;
}

TEST(Screen, DisplayPicturesAreEncodedByTheStandard) {
  const Sampled sampled = SomeDisplay();
  Shown shown;
  ShowDisplay(sampled, {}, false, false, shown);
  const Mat3 back = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  for (std::size_t i = 0; i < shown.argb.size(); ++i) {
    const float* p = sampled.linear.data().data() + 3 * i;
    const Vec3 s = Mul(back, Vec3{p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c)
      ASSERT_NEAR(Channel(shown.argb[i], c),
                  255 * color::Encode(color::Space::kSrgb, std::clamp(s[c], 0.0, 1.0)), 1.05);
  }
}

TEST(Screen, AMonitorOfThePicturesOwnSpaceChangesNothing) {
  const auto icc = codec::ProfileOf(color::Space::kSrgb);
  ASSERT_TRUE(icc.ok());
  const auto monitor = MonitorOf(*icc);
  ASSERT_TRUE(monitor.ok()) << monitor.error().Text();
  const Sampled sampled = SomeDisplay();
  Shown plain, through;
  ShowDisplay(sampled, {}, false, false, plain);
  ShowDisplay(sampled, *monitor, false, false, through);
  for (std::size_t i = 0; i < plain.argb.size(); ++i)
    for (int c = 0; c < 3; ++c) ASSERT_NEAR(Channel(plain.argb[i], c), Channel(through.argb[i], c), 4) << i;
}

TEST(Screen, AWiderMonitorGetsItsOwnValues) {
  const auto icc = codec::ProfileOf(color::Space::kDisplayP3);
  ASSERT_TRUE(icc.ok());
  const auto monitor = MonitorOf(*icc);
  ASSERT_TRUE(monitor.ok());
  Sampled one;
  one.linear.Resize(3, 1);
  const Mat3 to = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  const Vec3 colours[3] = {{0.18, 0.18, 0.18}, {0.8, 0.05, 0.05}, {0.1, 0.5, 0.1}};
  for (int i = 0; i < 3; ++i) {
    const Vec3 v = Mul(to, colours[i]);
    for (int c = 0; c < 3; ++c) one.linear.at(i, 0)[c] = static_cast<float>(v[c]);
  }
  Shown shown;
  ShowDisplay(one, *monitor, false, false, shown);
  const Mat3 p3 = color::RgbFromRgb(color::Space::kDisplayP3, color::Space::kSrgb);
  for (int i = 0; i < 3; ++i) {
    const Vec3 want = Mul(p3, colours[i]);
    for (int c = 0; c < 3; ++c)
      EXPECT_NEAR(Channel(shown.argb[static_cast<std::size_t>(i)], c),
                  255 * color::Encode(color::Space::kDisplayP3, std::clamp(want[c], 0.0, 1.0)), 4)
          << i << "," << c;
  }
}

TEST(Screen, ProfilesThatAreNoneAreRefused) {
  EXPECT_EQ(MonitorOf(std::vector<std::uint8_t>{1, 2, 3}).error().code, ErrorCode::kDamaged);
  auto icc = codec::ProfileOf(color::Space::kSrgb);
  ASSERT_TRUE(icc.ok());
  std::copy_n("prtr", 4, icc->begin() + 12);  // ICC.1, 7.2.5: device class
  EXPECT_EQ(MonitorOf(*icc).error().code, ErrorCode::kUnsupported);
}

TEST(Screen, MarksSayWhatIsLost) {
  const auto marks = [](float r, float g, float b, bool drawn_in) {
    const float v[3] = {r, g, b};
    return MarksOf(v, drawn_in);
  };
  EXPECT_EQ(marks(0.2f, 0.2f, 0.2f, false), 0);
  EXPECT_EQ(marks(1, 1, 1, false), kClippedHigh);
  EXPECT_EQ(marks(0, 0, 0, false), kClippedLow);
  EXPECT_EQ(marks(0.5f, -0.1f, 0.2f, false), kOutOfGamut);
  // The look's compression: a colour on the surface of sRGB comes to lie where kDrawnIn says, one inside
  // below.
  const Mat3 to = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  const auto compressed = [&](double least) {
    Vec3 v = Mul(to, Vec3{0.5, least, 0.2});
    look::CompressGamut(v.data());
    const Vec3 s = Mul(Inverse(to), v);
    const float f[3] = {static_cast<float>(s[0]), static_cast<float>(s[1]), static_cast<float>(s[2])};
    return MarksOf(f, true);
  };
  EXPECT_EQ(compressed(0.01), 0);
  EXPECT_EQ(compressed(-0.01), kOutOfGamut);
}

// The same bounds that the header promises.
class CorrectedTest : public testing::TestWithParam<std::tuple<bool, bool>> {};

TEST_P(CorrectedTest, IsTheExactEvaluationWithinItsBounds) {
  const auto [draft, skin_apart] = GetParam();
  Sampled sampled;
  sampled.linear = SomeScene(300, 200);
  record::Correction correction = SomeCorrection();
  if (skin_apart) correction.follow_skin = 0.5;
  Corrected corrected;
  Shown shown;
  corrected.Show(sampled, correction, {}, draft, true, shown);
  const look::Resolved resolved = look::Resolve(correction);
  const Mat3 back = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  std::vector<double> de;
  for (std::size_t i = 0; i < shown.argb.size(); ++i) {
    const float* p = sampled.linear.data().data() + 3 * i;
    const Vec3 exact = render::Exact(resolved, color::Space::kSrgb, {p[0], p[1], p[2]});
    Vec3 a, b;
    for (int c = 0; c < 3; ++c) {
      // Rounded like the screen's values: 8 bits are not the table's fault.
      a[c] = color::Decode(color::Space::kSrgb, std::round(255 * exact[c]) / 255);
      b[c] = color::Decode(color::Space::kSrgb, Channel(shown.argb[i], c) / 255.0);
    }
    de.push_back(color::Ciede2000(color::LabFromRec2020(Mul(back, a)), color::LabFromRec2020(Mul(back, b))));
  }
  std::sort(de.begin(), de.end());
  double mean = 0;
  for (const double d : de) mean += d / static_cast<double>(de.size());
  EXPECT_LT(mean, draft ? 0.4 : 0.35);  // dither moves each channel by up to one step
  EXPECT_LT(de[de.size() * 99 / 100], draft ? 1.6 : 1.4);
}
INSTANTIATE_TEST_SUITE_P(All, CorrectedTest, testing::Combine(testing::Bool(), testing::Bool()));

TEST(Corrected, FollowsEveryChange) {
  Sampled sampled;
  sampled.linear = SomeScene(60, 40);
  record::Correction correction = SomeCorrection();
  Corrected corrected;
  Shown one, two, three;
  corrected.Show(sampled, correction, {}, true, false, one);
  correction.touch.exposure_ev = 0.5;
  corrected.Show(sampled, correction, {}, true, false, two);
  EXPECT_NE(one.argb, two.argb);
  correction.touch.exposure_ev = 0;
  corrected.Show(sampled, correction, {}, true, false, three);
  EXPECT_EQ(one.argb, three.argb);
  EXPECT_TRUE(three.marks.empty());
}

TEST(Corrected, AMonitorsTableIsTheSameInsideAndBehind) {
  const auto icc = codec::ProfileOf(color::Space::kDisplayP3);
  const auto monitor = MonitorOf(*icc);
  ASSERT_TRUE(monitor.ok());
  Sampled sampled;
  sampled.linear = SomeScene(120, 80);
  Corrected corrected;
  Shown fused, behind;
  corrected.Show(sampled, SomeCorrection(), *monitor, false, false, fused);
  corrected.Show(sampled, SomeCorrection(), *monitor, false, true, behind);  // marks keep the table behind
  double sum = 0;
  for (std::size_t i = 0; i < fused.argb.size(); ++i)
    for (int c = 0; c < 3; ++c) {
      const int d = std::abs(Channel(fused.argb[i], c) - Channel(behind.argb[i], c));
      sum += d;
      ASSERT_LE(d, 8) << i;
    }
  EXPECT_LT(sum / static_cast<double>(3 * fused.argb.size()), 0.6);
}

}  // namespace
}  // namespace samelight::preview
