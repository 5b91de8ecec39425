// Whole pictures: bounds against the exact map, neutrals, smooth ramps, size, cancelling, threads.
#include "render/render.h"

#include <gtest/gtest.h>

#include <cmath>
#include <thread>
#include <vector>

#include "image/resize.h"
#include "render/bake.h"
#include "render/grain.h"
#include "render/samples_test.h"
#include "render/targets_test.h"

namespace samelight::render {
namespace {

image::RgbF Picture(const std::vector<Vec3>& colours, int width) {
  image::RgbF p(width, static_cast<int>(colours.size()) / width);
  for (std::size_t i = 0; i < p.pixels(); ++i)
    for (int c = 0; c < 3; ++c) p.data()[3 * i + c] = static_cast<float>(colours[i][c]);
  return p;
}

// A look whose three layers and matrices keep greys grey.
record::Correction GreyKeeping() {
  record::Correction c = RandomCorrection(1, false);
  c.unify.matrix = kIdentity3;
  c.look.layer[1] = c.look.layer[2] = c.look.layer[0];
  c.offset_log10 = {0.1, 0.1, 0.1};
  c.touch = {};
  return c;
}

TEST(Render, EightBitStaysWithinOneStepAndAHalfOfTheExactMap) {
  for (unsigned seed = 1; seed <= 6; ++seed)
    for (bool display : {false, true}) {
      const record::Correction c = RandomCorrection(seed, display);
      const std::vector<Vec3> colours = TestColours(display, seed);
      const image::RgbF in = Picture(colours, 151);
      const auto out = Render8(in, c, {});
      ASSERT_TRUE(out.ok());
      const look::Resolved resolved = look::Resolve(c);
      double sum = 0;
      int beyond = 0;
      for (std::size_t i = 0; i < in.pixels(); ++i) {
        const float* p = &in.data()[3 * i];
        const Vec3 exact = Exact(resolved, color::Space::kSrgb, {p[0], p[1], p[2]});
        for (int k = 0; k < 3; ++k) {
          const double off = out->data()[3 * i + k] - 255 * exact[k];
          sum += off;
          beyond += std::abs(off) > 1.5;
        }
      }
      EXPECT_LT(beyond, 3 * 0.01 * static_cast<double>(in.pixels())) << "seed " << seed;
      EXPECT_NEAR(sum / (3.0 * static_cast<double>(in.pixels())), 0, 0.03) << "seed " << seed;
    }
}

TEST(Render, NeutralsStayNeutral) {
  image::RgbF in(4096, 1);
  for (int x = 0; x < in.width(); ++x)
    for (int c = 0; c < 3; ++c) in.at(x, 0)[c] = static_cast<float>(16 * std::pow(x / 4095.0, 4));
  const auto out = Render16(in, GreyKeeping(), {});
  ASSERT_TRUE(out.ok());
  for (int x = 0; x < in.width(); ++x) {
    const std::uint16_t* p = out->at(x, 0);
    // A quarter of an 8-bit step.
    EXPECT_NEAR(p[0], p[1], 64) << x;
    EXPECT_NEAR(p[2], p[1], 64) << x;
  }
}

TEST(Render, ASmoothRampStaysMonotoneWithoutBanding) {
  image::RgbF in(60000, 1);
  for (int x = 0; x < in.width(); ++x)
    for (int c = 0; c < 3; ++c) in.at(x, 0)[c] = static_cast<float>(std::exp2(-10 + 13.0 * x / in.width()));
  const record::Correction correction = GreyKeeping();
  const auto out = Render16(in, correction, {});
  ASSERT_TRUE(out.ok());
  const look::Resolved resolved = look::Resolve(correction);
  int worst_step = 0;
  for (int x = 1; x < in.width(); ++x) {
    const int step = out->at(x, 0)[1] - out->at(x - 1, 0)[1];
    ASSERT_GE(step, 0) << x;
    worst_step = std::max(worst_step, step);
  }
  // The steepest part of the exact ramp rises by about 2.5 steps of 16 bits a pixel; a band would be a jump
  // of many.
  EXPECT_LE(worst_step, 6);
  // With dither the 8-bit mean of a patch follows the ramp to a small part of a step.
  image::RgbF flat(64, 64);
  for (double y : {0.01, 0.0101, 0.18, 0.1805, 0.7}) {
    std::fill(flat.data().begin(), flat.data().end(), static_cast<float>(y));
    const auto dithered = Render8(flat, correction, {});
    const auto fine = Render16(flat, correction, {});
    ASSERT_TRUE(dithered.ok() && fine.ok());
    double mean = 0;
    for (std::uint8_t v : dithered->data()) mean += v;
    double mean16 = 0;
    for (std::uint16_t v : fine->data()) mean16 += v / 257.0;
    EXPECT_NEAR(mean / dithered->data().size(), mean16 / fine->data().size(), 0.01);
  }
}

TEST(Render, SameBytesFromAnyThreadAndAfterOtherFrames) {
  const image::RgbF in = Picture(TestColours(false, 5), 150);
  const record::Correction c = RandomCorrection(3, false), other = RandomCorrection(4, true);
  const auto first = Render8(in, c, {});
  ASSERT_TRUE(first.ok());
  std::vector<std::uint8_t> there;
  std::thread([&] {
    (void)Render16(in, other, {});
    there = Render8(in, c, {})->data();
  }).join();
  EXPECT_EQ(first->data(), there);
}

TEST(Render, SizesAndErrors) {
  image::RgbF in(301, 200);
  std::fill(in.data().begin(), in.data().end(), 0.18f);
  RenderOptions options;
  options.long_side_px = 100;
  const auto small = Render8(in, {}, options);
  ASSERT_TRUE(small.ok());
  EXPECT_EQ(small->width(), 100);
  EXPECT_EQ(small->height(), 66);
  options.long_side_px = 5000;  // never enlarged
  EXPECT_EQ(Render8(in, {}, options)->width(), 301);
  EXPECT_EQ(Render8(image::RgbF(), {}, {}).error().code, ErrorCode::kInvalidArgument);
  options.cancel.Request();
  EXPECT_EQ(Render16(in, {}, options).error().code, ErrorCode::kCancelled);
}

TEST(Render, KeepsTheMemoryOfTheOutput) {
  const image::RgbF in = Picture(TestColours(false, 5), 150);
  image::RgbU8 out(400, 400);
  const std::uint8_t* const before = out.data().data();
  ASSERT_TRUE(Render(in, {}, {}, out).ok());
  EXPECT_EQ(out.data().data(), before);
  EXPECT_EQ(out.data(), Render8(in, {}, {})->data());
}

TEST(Render, AcutanceLiftsFineDetailAndLeavesTheRest) {
  // Wider than a strip, so that its borders are crossed: a fine grating beside flat grey.
  image::RgbF in(1300, 40);
  for (int y = 0; y < in.height(); ++y)
    for (int x = 0; x < in.width(); ++x)
      for (int c = 0; c < 3; ++c) in.at(x, y)[c] = x < 650 ? 0.18f : x % 2 == 0 ? 0.175f : 0.185f;
  RenderOptions sharp;
  sharp.acutance.gain = 0.8;
  sharp.acutance.rim = 10;  // the filter itself
  const auto plain = Render16(in, {}, {}), out = Render16(in, {}, sharp);
  ASSERT_TRUE(plain.ok() && out.ok());
  for (int x = 0; x < 640; ++x) ASSERT_NEAR(out->at(x, 20)[1], plain->at(x, 20)[1], 1) << x;
  for (int x = 700; x + 1 < in.width(); ++x) {
    const double was = std::abs(plain->at(x, 20)[1] - plain->at(x + 1, 20)[1]);
    // The blur's response at the finest grating is 0.0143, from its seven taps: 1 + 0.8 x (1 - 0.0143).
    ASSERT_NEAR(std::abs(out->at(x, 20)[1] - out->at(x + 1, 20)[1]) / was, 1.789,
                x + 5 < in.width() ? 0.02 : 0.9)
        << x;
  }
  for (int y : {0, 39}) EXPECT_NEAR(out->at(300, y)[1], plain->at(300, y)[1], 1);
}

// Scene-referred 16 bits and display-referred 8 bits, as files hold them.
image::Samples Stored(const image::RgbF& linear, bool eight) {
  image::Samples samples;
  if (!eight) {
    image::RgbU16 sixteen(linear.width(), linear.height());
    for (std::size_t i = 0; i < linear.data().size(); ++i)
      sixteen.data()[i] =
          static_cast<std::uint16_t>(std::clamp(linear.data()[i] / 16 * 64511 + 1024.5f, 0.0f, 65535.0f));
    return image::SixteenLinear(std::move(sixteen), {1024, 16.0f / 64511, kIdentity3});
  }
  samples.eight.Resize(linear.width(), linear.height());
  for (std::size_t i = 0; i < linear.data().size(); ++i)
    samples.eight.data()[i] = static_cast<std::uint8_t>(
        std::lround(255 * color::Encode(color::Space::kSrgb, std::clamp(linear.data()[i], 0.0f, 1.0f))));
  samples.to_linear = [](const void* stored, std::size_t count, float* out) {
    const auto* from = static_cast<const std::uint8_t*>(stored);
    for (std::size_t i = 0; i < 3 * count; ++i)
      out[i] = static_cast<float>(color::Decode(color::Space::kSrgb, from[i] / 255.0));
  };
  return samples;
}

// A file's own samples give the bytes that floats of the same values give, reduced or not, from any thread; and so are
// within the chain's error.
TEST(Render, SamplesGiveTheBytesOfFloats) {
  for (const bool eight : {false, true}) {
    const image::Samples stored = Stored(Picture(TestColours(eight, 9), 1200), eight);
    image::RgbF floats;
    image::MakeLinear(stored, floats);
    const record::Correction correction = RandomCorrection(2, eight);
    for (const double gain : {0.0, 0.6})
      for (const int side : {0, 517}) {
        RenderOptions options;
        options.grain.on = true;
        options.grain.model = FilmGrain(6, 12, 36);
        options.acutance.gain = gain;
        options.long_side_px = side;
        const auto a = Render8(stored, correction, options), b = Render8(floats, correction, options);
        ASSERT_TRUE(a.ok() && b.ok());
        EXPECT_EQ(a->data(), b->data()) << eight << " " << gain << " " << side;
        std::vector<std::uint16_t> there;
        std::thread([&] { there = Render16(stored, correction, options)->data(); }).join();
        EXPECT_EQ(there, Render16(floats, correction, options)->data());
      }
  }
}

// Pixels before encoding differ by at most one step of 8 bit from one kind of processor to another.
void AllTargetsAgree(const image::Source& in) {
  RenderOptions options;
  options.grain.on = true;
  options.grain.model = FilmGrain(6, 12, 36);
  options.part = {0, 0, std::min(120, in.width()), std::min(60, in.height())};
  image::RgbU8 first;
  for (const double gain : {0.6, -0.5}) {
    options.acutance.gain = gain;
    const record::Correction correction =
        RandomCorrection(gain > 0 ? 2 : 3, false);  // the second has skin apart
    first = {};
    OnEveryTarget([&] {
      const auto out = Render8(in, correction, options);
      ASSERT_TRUE(out.ok());
      if (first.empty()) first = *out;
      for (std::size_t i = 0; i < first.data().size(); ++i)
        ASSERT_NEAR(out->data()[i], first.data()[i], 1) << i;
    });
  }
}
TEST(Render, AllTargetsAgreeWithinAStep) { AllTargetsAgree(Picture(TestColours(false, 7), 150)); }
TEST(Render, AllTargetsAgreeWithinAStepFromSixteenBits) {
  AllTargetsAgree(Stored(Picture(TestColours(false, 7), 150), false));
}

// A frame of high sensitivity is as grainy as a clean one, not more: invented white noise on grey.
TEST(Render, GrainLeavesRoomForTheNoiseOfTheFrame) {
  RenderOptions plain, grained;
  plain.dither = grained.dither = false;
  grained.grain.on = true;
  grained.grain.model = FilmGrain(20, 30, 36);
  const auto deviation = [](double noise, const RenderOptions& options) {
    Dice dice(11);
    image::RgbF in(400, 300);
    for (int y = 0; y < in.height(); ++y)
      for (int x = 0; x < in.width(); ++x) {
        const double v = 0.18 * (1 + noise * (dice.Between(-1, 1) + dice.Between(-1, 1)));
        for (int c = 0; c < 3; ++c) in.at(x, y)[c] = static_cast<float>(v);
      }
    const auto out = Render16(in, {}, options);
    EXPECT_TRUE(out.ok());
    double sum = 0, squares = 0;
    for (std::size_t i = 0; i < out->pixels(); ++i) {
      const std::uint16_t* p = &out->data()[3 * i];
      const double luma = 0.2126 * p[0] + 0.7152 * p[1] + 0.0722 * p[2];
      sum += luma;
      squares += luma * luma;
    }
    const double n = static_cast<double>(out->pixels());
    return std::sqrt(squares / n - sum / n * sum / n);
  };
  const double film = deviation(0, grained);
  for (const double noise : {0.01, 0.02, 0.06}) {
    const double own = deviation(noise, plain), both = deviation(noise, grained);
    std::printf("noise %.2f: own %.0f film %.0f both %.0f\n", noise, own, film, both);
    // Some grain always stays: 0.1 of its variance.
    EXPECT_NEAR(both / std::max(film, std::sqrt(own * own + 0.1 * film * film)), 1, 0.12) << noise;
  }
}

}  // namespace
}  // namespace samelight::render
