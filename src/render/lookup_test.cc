// The vector code against plain code on every target of this machine: odd counts, NaN, infinities, negatives.
#include "render/lookup.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "render/quantise.h"
#include "render/samples_test.h"
#include "render/targets_test.h"

namespace samelight::render {
namespace {

std::vector<float> Pixels(std::size_t count, unsigned seed) {
  Dice dice(seed);
  std::vector<float> rgb(3 * count);
  for (float& v : rgb) v = static_cast<float>(std::exp2(dice.Between(-14, 5)));
  const float nan = std::nanf(""), inf = std::numeric_limits<float>::infinity();
  const float odd[] = {nan, inf,   -inf,   -1,     -1e-6f,
                       0,   1e30f, -1e30f, 1e-40f, std::numeric_limits<float>::denorm_min()};
  for (std::size_t i = 0; i < std::size(odd) && 5 * i + 1 < rgb.size(); ++i) rgb[5 * i + 1] = odd[i];
  if (count > 20)
    for (int c = 0; c < 3; ++c) {
      rgb[3 * 18 + c] = inf;
      rgb[3 * 19 + c] = nan;
    }
  return rgb;
}

TEST(Lookup, AllTargetsAgreeWithPlainCode) {
  for (unsigned seed : {2u, 3u}) {
    BakedCorrection baked;
    Bake(look::Resolve(RandomCorrection(seed, false)), color::Space::kSrgb, 33, baked);
    OnEveryTarget([&] {
      for (std::size_t count : {1u, 2u, 3u, 5u, 15u, 16u, 17u, 63u, 255u, 1001u}) {
        const std::vector<float> rgb = Pixels(count, seed);
        std::vector<float> fast(4 * count + 1, -7), plain(4 * count);
        Lookup(baked, rgb.data(), count, fast.data());
        LookupPlain(baked, rgb.data(), count, plain.data());
        EXPECT_EQ(fast.back(), -7) << "wrote past the end";
        for (std::size_t i = 0; i < plain.size(); ++i) {
          ASSERT_GE(fast[i], -0.1);
          ASSERT_LE(fast[i], 2);
          ASSERT_NEAR(fast[i], plain[i], 2e-5) << count << " pixels, value " << i;
        }
      }
    });
  }
}

// Tetrahedral interpolation gives a function that is linear in its inputs back exactly, and every node's own
// value.
TEST(Lookup, TheTableAloneIsExactForLinearFunctionsAndAtNodes) {
  constexpr int kNodes = 17;
  Baked table;
  table.nodes = kNodes;
  table.SetNodes(kNodes);
  const auto value = [](double r, double g, double b, int c) {
    return 0.1 * c + (0.5 + 0.1 * c) * r - 0.2 * g + (0.3 - 0.2 * c) * b;
  };
  float* at = table.entries();
  for (int r = 0; r < kNodes; ++r)
    for (int g = 0; g < kNodes; ++g)
      for (int b = 0; b < kNodes; ++b, at += 4)
        for (int c = 0; c < 4; ++c) at[c] = static_cast<float>(value(r / 16.0, g / 16.0, b / 16.0, c));
  Dice dice(5);
  std::vector<float> rgb(3 * 301), out(4 * 301);
  for (std::size_t i = 0; i < rgb.size(); ++i)
    rgb[i] = static_cast<float>(i % 2 == 0 ? dice.Between(0, 1) : std::floor(dice.Between(0, 17)) / 16);
  OnEveryTarget([&] {
    LookupTable(table, rgb.data(), 301, out.data());
    for (std::size_t i = 0; i < 301; ++i)
      for (int c = 0; c < 4; ++c)
        ASSERT_NEAR(out[4 * i + c], value(rgb[3 * i], rgb[3 * i + 1], rgb[3 * i + 2], c), 5e-6) << i;
    const float outside[9] = {-1, 2, std::nanf(""), 1, 1, 1, 0, 0, 0};
    LookupTable(table, outside, 3, out.data());
    EXPECT_NEAR(out[0], value(0, 1, 0, 0), 5e-6);
    EXPECT_NEAR(out[4], value(1, 1, 1, 0), 5e-6);
  });
}

// A session file may hold anything; the kernels index tables by what was baked from it.
TEST(Lookup, ADamagedCorrectionStaysWithinTheTable) {
  const double nan = std::nan(""), inf = std::numeric_limits<double>::infinity();
  const std::vector<float> rgb = Pixels(1001, 4);
  for (double bad : {nan, inf, -inf, 0.0, 1e300, -1e300})
    for (int place = 0; place < 8; ++place) {
      record::Correction c = RandomCorrection(3, false);
      (place == 0   ? c.look.m1[1][0]
       : place == 1 ? c.look.layer[0].gamma
       : place == 2 ? c.look.layer[1].floor
       : place == 3 ? c.look.layer[2].toe
       : place == 4 ? c.unify.matrix[0][0]
       : place == 5 ? c.unify.exposure_log10
       : place == 6 ? c.offset_log10[1]
                    : c.look.m2[2][2]) = bad;
      BakedCorrection baked;
      Bake(look::Resolve(c), color::Space::kSrgb, 9, baked);
      for (const Baked* b : {&baked.film, &baked.skin})
        for (int ch = 0; ch < 3; ++ch) {
          ASSERT_TRUE(std::isfinite(b->ease[ch]) && std::isfinite(b->u_scale[ch]) &&
                      std::isfinite(b->u_bias[ch]));
          for (const auto& power : b->shaper[ch])
            for (float v : power) ASSERT_TRUE(std::isfinite(v)) << bad << " at " << place;
        }
      std::vector<float> out(4 * 1001);
      Lookup(baked, rgb.data(), 1001, out.data());
      for (float v : out) ASSERT_TRUE(std::isfinite(v)) << bad << " at " << place;
    }
}

TEST(Lookup, NotANumberIsBlackAndInfinityIsWhite) {
  record::Correction c;
  BakedCorrection baked;
  const look::Resolved resolved = look::Resolve(c);
  Bake(resolved, color::Space::kSrgb, 33, baked);
  const float nan = std::nanf(""), inf = std::numeric_limits<float>::infinity();
  const float rgb[] = {nan, nan, nan, inf, inf, inf, -inf, -inf, -inf};
  float out[12];
  Lookup(baked, rgb, 3, out);
  const Vec3 black = Exact(resolved, color::Space::kSrgb, {0, 0, 0});
  for (int k = 0; k < 3; ++k) {
    EXPECT_NEAR(out[k], black[k], 1e-3);
    EXPECT_GT(out[4 + k], 0.98);
    EXPECT_NEAR(out[8 + k], black[k], 1e-3);
  }
}

TEST(Quantise, AllTargetsAgreeWithPlainCode) {
  OnEveryTarget([&] {
    for (std::size_t count : {1u, 2u, 3u, 4u, 5u, 7u, 8u, 9u, 333u}) {
      Dice dice(static_cast<unsigned>(count));
      std::vector<float> rgbx(4 * count);
      for (float& v : rgbx) v = static_cast<float>(dice.Between(-0.1, 1.1));
      rgbx[1] = std::nanf("");
      std::vector<std::uint8_t> fast(3 * count + 1, 77), plain(3 * count);
      std::vector<std::uint16_t> fast16(3 * count + 1, 777), plain16(3 * count);
      for (bool dither : {false, true}) {
        Quantise8(rgbx.data(), count, dither, 5, 9, fast.data());
        Quantise8Plain(rgbx.data(), count, dither, 5, 9, plain.data());
        EXPECT_EQ(fast.back(), 77) << "wrote past the end";
        for (std::size_t i = 0; i < plain.size(); ++i) ASSERT_NEAR(fast[i], plain[i], 1);
      }
      Quantise16(rgbx.data(), count, fast16.data());
      Quantise16Plain(rgbx.data(), count, plain16.data());
      EXPECT_EQ(fast16.back(), 777) << "wrote past the end";
      for (std::size_t i = 0; i < plain16.size(); ++i) ASSERT_EQ(fast16[i], plain16[i]);
    }
  });
}

TEST(Quantise, DitherKeepsWholeValuesAndTheMean) {
  constexpr int kSide = 64;
  for (int whole : {0, 1, 128, 254, 255}) {
    std::vector<float> rgbx(4 * kSide, static_cast<float>(whole / 255.0));
    std::vector<std::uint8_t> out(3 * kSide);
    for (int y = 0; y < kSide; ++y) {
      Quantise8(rgbx.data(), kSide, true, 0, y, out.data());
      for (std::uint8_t v : out) ASSERT_EQ(v, whole);
    }
  }
  for (double value : {0.3, 77.25, 200.5, 254.9}) {
    std::vector<float> rgbx(4 * kSide, static_cast<float>(value / 255.0));
    std::vector<std::uint8_t> out(3 * kSide);
    double sum[3] = {0, 0, 0};
    for (int y = 0; y < kSide; ++y) {
      Quantise8(rgbx.data(), kSide, true, 0, y, out.data());
      for (int i = 0; i < 3 * kSide; ++i) sum[i % 3] += out[i];
    }
    for (double s : sum) EXPECT_NEAR(s / (kSide * kSide), value, 0.01);
  }
}

}  // namespace
}  // namespace samelight::render
