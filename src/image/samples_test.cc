#include "image/samples.h"

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include <algorithm>
#include <cmath>

#include "image/resize.h"
#include "image/shrink.h"

namespace samelight::image {
namespace {

constexpr LinearSixteen kHow{
    1024, 1.5f / 64511, {{{1.6, -0.5, -0.1}, {-0.2, 1.3, -0.1}, {0.05, -0.4, 1.35}}}};

RgbU16 Sixteen(int width, int height) {
  RgbU16 p(width, height);
  for (std::size_t i = 0; i < p.data().size(); ++i)
    p.data()[i] = static_cast<std::uint16_t>(40503u * i + 7 * (i / 11));
  return p;
}

// The formula of the header in double, on every vector target and for every count.
TEST(Samples, SixteenBitsBecomeLinear) {
  const RgbU16 p = Sixteen(71, 3);
  for (const bool matrix : {false, true}) {
    LinearSixteen how = kHow;
    if (!matrix) how.matrix = kIdentity3;
    for (std::int64_t targets = hwy::SupportedTargets(); targets != 0; targets &= targets - 1) {
      hwy::SetSupportedTargetsForTest(targets & -targets);
      hwy::GetChosenTarget().Update(hwy::SupportedTargets());
      SCOPED_TRACE(hwy::TargetName(targets & -targets));
      for (const std::size_t count : {1, 2, 15, 16, 17, 71}) {
        std::vector<float> out(3 * count + 1, -7.0f);
        how(p.row(1), count, out.data());
        EXPECT_EQ(out.back(), -7.0f) << "nothing is written behind the end";
        for (std::size_t i = 0; i < count; ++i)
          for (int c = 0; c < 3; ++c) {
            double v = 0;
            for (int k = 0; k < 3; ++k)
              v += how.matrix[c][k] * (p.row(1)[3 * i + k] - 1024.0) * static_cast<double>(how.factor);
            ASSERT_NEAR(out[3 * i + c], v, 3e-6) << count << " " << i;
          }
        // Whatever lies beside it.
        for (std::size_t i = 0; i < count; ++i) {
          float one[3];
          how(p.row(1) + 3 * i, 1, one);
          for (int c = 0; c < 3; ++c) ASSERT_EQ(one[c], out[3 * i + c]) << count << " " << i;
        }
      }
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
  }
}

TEST(Samples, ASourceReadsTheSameFromFloatsAndSamples) {
  const Samples samples = SixteenLinear(Sixteen(50, 9), kHow);
  RgbF floats;
  MakeLinear(samples, floats);
  std::vector<float> room(3 * 20);
  for (int y = 0; y < 9; ++y) {
    const float *a = Source(samples).Row(13, y, 20, room.data()), *b = Source(floats).Row(13, y, 20, nullptr);
    ASSERT_TRUE(std::equal(a, a + 60, b)) << y;
    Source(samples).Expect(13, y + 1, 20);  // one behind the end, too
  }
}

// Mean of the footprint of each target pixel, from samples and from floats: the same bits.
TEST(Samples, AreReducedAsFloatsAre) {
  for (const auto& [w, h, side] : {std::array{64, 48, 32},
                                   {300, 200, 100},
                                   {257, 131, 90},
                                   {131, 257, 40},
                                   {90, 1, 7},
                                   {1, 2000, 100}}) {
    const Samples samples = SixteenLinear(Sixteen(w, h), kHow);
    RgbF floats;
    MakeLinear(samples, floats);
    const RgbF a = ShrinkTo(Source(samples), side, {}), b = ShrinkTo(Source(floats), side, {}),
               c = ShrinkTo(floats, side);
    EXPECT_EQ(a.data(), b.data());
    ASSERT_EQ(a.width(), c.width());
    ASSERT_EQ(a.height(), c.height());
    // ShrinkTo of floats is held against the exact mean in resize_test.
    for (std::size_t i = 0; i < a.data().size(); ++i)
      ASSERT_NEAR(a.data()[i], c.data()[i], 4e-5) << w << " " << i;
  }
}

}  // namespace
}  // namespace samelight::image
