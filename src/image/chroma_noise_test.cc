// Invented pictures with known noise; edges between colours of the published target of 24 patches.
#include "image/chroma_noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <limits>
#include <random>

#include "color/difference.h"
#include "color/lab.h"
#include "image/resize.h"

namespace samelight::image {
namespace {

// Two flat halves left and right, of `a` and `b`.
RgbF Halves(const Vec3& a, const Vec3& b, int width = 512, int height = 384) {
  RgbF out(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x)
      for (int c = 0; c < 3; ++c) out.at(x, y)[c] = static_cast<float>((x < width / 2 ? a : b)[c]);
  return out;
}

// Shot and read noise as demosaicing leaves it: each channel by itself, blurred a little.
RgbF WithNoise(const RgbF& clean, double strength, unsigned seed = 1) {
  std::mt19937 random(seed);
  std::normal_distribution<float> normal;
  RgbF noise(clean.width(), clean.height());
  for (float& v : noise.data()) v = normal(random);
  noise = Blur(noise, 0.6);
  RgbF out = clean;
  for (std::size_t i = 0; i < out.data().size(); ++i)
    out.data()[i] += static_cast<float>(strength) * 2.1f * noise.data()[i] *
                     std::sqrt(0.18f * std::max(0.0f, clean.data()[i]) + 1e-4f);
  return out;
}

Vec3 LabAt(const float* p) { return color::LabFromRec2020({p[0], p[1], p[2]}); }

// Root of the mean squared deviation of a* and b* from `want`, over columns [from, to).
double ChromaError(const RgbF& picture, const Vec3& want, int from, int to) {
  const Vec3 lab = color::LabFromRec2020(want);
  double sum = 0;
  int n = 0;
  for (int y = 20; y < picture.height() - 20; ++y)
    for (int x = from; x < to; ++x, ++n) {
      const Vec3 own = LabAt(picture.at(x, y));
      sum += (own[1] - lab[1]) * (own[1] - lab[1]) + (own[2] - lab[2]) * (own[2] - lab[2]);
    }
  return std::sqrt(sum / n);
}

// tests/published/target24_D50_xyY_Lab.csv, average of 30 targets: light skin, moderate red (for lips),
// foliage, and a mid-grey; a* and b* are taken as they stand, since only the differences matter here.
const Vec3 kSkin = color::Rec2020FromLab({65.943, 17.871, 17.874});
const Vec3 kLips = color::Rec2020FromLab({51.599, 47.786, 16.885});
const Vec3 kLeaf = color::Rec2020FromLab({43.286, -13.240, 21.939});
const Vec3 kGrey{0.18, 0.18, 0.18};

TEST(ChromaNoise, DropsManifoldWhereFlatAndLeavesLuminance) {
  const RgbF clean = Halves(kSkin, kGrey), noisy = WithNoise(clean, 0.12);
  const ChromaNoise noise = MeasureChromaNoise(noisy);
  EXPECT_TRUE(noise.worth_reducing());
  RgbF out = noisy;
  ReduceChromaNoise(out, noise, {});
  for (const auto& [colour, from] : {std::pair(kSkin, 40), std::pair(kGrey, 300)}) {
    const double before = ChromaError(noisy, colour, from, from + 160),
                 after = ChromaError(out, colour, from, from + 160);
    std::printf("chroma noise %.2f -> %.2f CIELAB\n", before, after);
    EXPECT_LT(after, before / 4);
  }
  const PlaneF y0 = Luminance(noisy), y1 = Luminance(out);
  for (std::size_t i = 0; i < y0.data().size(); ++i) ASSERT_NEAR(y1.data()[i], y0.data()[i], 2e-6);
}

// How far colours bleed where `a` and `b` meet when noise of this strength is reduced: CIEDE2000 at most.
// Column means take the noise away: what is left is bleeding.
double Bleeding(const Vec3& a, const Vec3& b, double strength) {
  const RgbF noisy = WithNoise(Halves(a, b), strength);
  RgbF out = noisy;
  ReduceChromaNoise(out, MeasureChromaNoise(noisy), {});
  double most = 0;
  for (int x = 200; x < 312; ++x) {
    Vec3 mean{0, 0, 0};
    for (int y = 0; y < out.height(); ++y)
      for (int c = 0; c < 3; ++c) mean[c] += out.at(x, y)[c] / out.height();
    most =
        std::max(most, color::Ciede2000(color::LabFromRec2020(mean), color::LabFromRec2020(x < 256 ? a : b)));
  }
  std::printf("bleeding at an edge: CIEDE2000 %.2f at most\n", most);
  return most;
}

// With chroma noise of about 4.6 CIELAB at a single pixel. What stands out of the noise by less than three
// times cannot be told from it: twice that noise bleeds up to 6.
TEST(ChromaNoise, ColoursDoNotBleedAcrossEdges) {
  for (const auto& [a, b] : {std::pair(kSkin, kLips), std::pair(kSkin, kLeaf), std::pair(kGrey, kLips)})
    EXPECT_LT(Bleeding(a, b, 0.06), 1.5);  // images are seen to differ from about 2.5 on (Song & Luo 2001)
}

TEST(ChromaNoise, EdgesOfEqualLuminanceStayToo) {
  // Only the differences tell these apart: Y is 0.2 on both sides.
  const Vec3 a{0.26, 0.18, 0.16}, b{(0.2 - 0.678 * 0.22 - 0.0593 * 0.16) / 0.2627, 0.22, 0.16};
  EXPECT_LT(Bleeding(a, b, 0.06), 2.5);
}

TEST(ChromaNoise, IsOffWhereNoiseIsNotSeen) {
  const RgbF clean = Halves(kSkin, kLeaf);
  EXPECT_FALSE(MeasureChromaNoise(clean).worth_reducing());
  EXPECT_FALSE(MeasureChromaNoise(WithNoise(clean, 0.012)).worth_reducing());
  EXPECT_TRUE(MeasureChromaNoise(WithNoise(clean, 0.12)).worth_reducing());
  EXPECT_FALSE(MeasureChromaNoise(RgbF(40, 40)).worth_reducing());
}

TEST(ChromaNoise, StripsLeaveNoSeams) {
  const RgbF noisy = WithNoise(Halves(kSkin, kLeaf, 301, 517), 0.12);
  const ChromaNoise noise = MeasureChromaNoise(noisy);
  RgbF one = noisy;
  ReduceChromaNoise(one, noise, {});
  // Turned upside down, strips lie elsewhere: the same picture comes out to rounding.
  const auto turned = [](const RgbF& in) {
    RgbF out(in.width(), in.height());
    for (int y = 0; y < in.height(); ++y)
      std::copy_n(in.row(y), 3 * in.width(), out.row(in.height() - 1 - y));
    return out;
  };
  RgbF other = turned(noisy);
  ReduceChromaNoise(other, noise, {});
  other = turned(other);
  for (std::size_t i = 0; i < one.data().size(); ++i) ASSERT_NEAR(one.data()[i], other.data()[i], 2e-5);
}

TEST(ChromaNoise, WhatIsNotANumberStaysWhereItIs) {
  RgbF noisy = WithNoise(Halves(kSkin, kLeaf), 0.12);
  const ChromaNoise noise = MeasureChromaNoise(noisy);
  noisy.at(100, 100)[1] = std::numeric_limits<float>::quiet_NaN();
  noisy.at(200, 100)[0] = std::numeric_limits<float>::infinity();
  ReduceChromaNoise(noisy, noise, {});
  EXPECT_TRUE(std::isnan(noisy.at(100, 100)[1]));
  EXPECT_TRUE(std::isinf(noisy.at(200, 100)[0]));
  EXPECT_TRUE(std::isfinite(noisy.at(101, 100)[0]));
  EXPECT_TRUE(std::isfinite(noisy.at(103, 102)[2]));
}

}  // namespace
}  // namespace samelight::image
