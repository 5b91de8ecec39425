// Grain: what is measured against synthetic truth made by other means, and what is made against what was
// measured.
#include "render/grain.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <thread>

#include "color/space.h"
#include "render/grain_meter.h"
#include "render/render.h"
#include "render/samples_test.h"
#include "render/targets_test.h"

namespace samelight::render {
namespace {

using std::numbers::pi;

// White Gaussian noise blurred by a Gaussian of `sigma` px, variance 1: not the product's generator.
std::vector<float> BlurredNoise(int width, int height, double sigma, std::mt19937& engine) {
  std::normal_distribution<float> normal;
  const int r = static_cast<int>(std::ceil(4 * sigma));
  std::vector<double> tap(2 * r + 1);
  double energy = 0;
  for (int k = -r; k <= r; ++k) tap[k + r] = std::exp(-k * k / (2 * sigma * sigma));
  for (double t : tap) energy += t * t;
  for (double& t : tap) t /= std::sqrt(energy);
  const int w = width + 2 * r, h = height + 2 * r;
  std::vector<float> white(static_cast<std::size_t>(w) * h), across(static_cast<std::size_t>(width) * h),
      out(static_cast<std::size_t>(width) * height);
  for (float& v : white) v = normal(engine);
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < width; ++x) {
      double sum = 0;
      for (int k = 0; k <= 2 * r; ++k) sum += tap[k] * white[static_cast<std::size_t>(y) * w + x + k];
      across[static_cast<std::size_t>(y) * width + x] = static_cast<float>(sum);
    }
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      double sum = 0;
      for (int k = 0; k <= 2 * r; ++k) sum += tap[k] * across[static_cast<std::size_t>(y + k) * width + x];
      out[static_cast<std::size_t>(y) * width + x] = static_cast<float>(sum);
    }
  return out;
}

constexpr double kBlurPx = 1.1;
constexpr double kRg = 0.5, kGb = 0.3, kRb = 0.2;
double TrueSigma(int layer, double density) { return (0.02 + 0.004 * layer) * std::sqrt(0.1 + density); }

// A "scan": stripes of many tones with a soft gradient, every third stripe textured, grain in density.
image::RgbF SyntheticScan(int width, int height, unsigned seed) {
  std::mt19937 engine(seed);
  std::array<std::vector<float>, 3> n;
  for (auto& plane : n) plane = BlurredNoise(width, height, kBlurPx, engine);
  const Mat3 rec2020 = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  const double g = std::sqrt(1 - kRg * kRg), h = (kGb - kRb * kRg) / g, k = std::sqrt(1 - kRb * kRb - h * h);
  image::RgbF scan(width, height);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const std::size_t i = static_cast<std::size_t>(y) * width + x;
      const int stripe = y * 24 / height;
      double density = 0.12 + 0.07 * stripe + 0.05 * std::sin(x * 0.004);
      if (stripe % 3 == 2)
        density += 0.03 * std::sin(x * 0.9) * std::sin(y * 0.7) + 0.05 * std::sin(x * 0.23 + y * 0.31);
      const double noise[3] = {n[0][i], kRg * n[0][i] + g * n[1][i],
                               kRb * n[0][i] + h * n[1][i] + k * n[2][i]};
      Vec3 linear{};
      for (int c = 0; c < 3; ++c) {
        const double d = density + 0.02 * c;
        linear[c] = std::pow(10, -(d + TrueSigma(c, d) * noise[c]));
      }
      linear = Mul(rec2020, linear);
      for (int c = 0; c < 3; ++c) scan.at(x, y)[c] = static_cast<float>(linear[c]);
    }
  return scan;
}

// Power of the blurred noise, variance 1, per (cycle/pixel)^2.
double TruePower(double f) {
  return 4 * pi * kBlurPx * kBlurPx * std::exp(-4 * pi * pi * kBlurPx * kBlurPx * f * f);
}

const record::GrainModel& MeasuredModel() {
  static const record::GrainModel kModel = [] {
    GrainMeter meter;
    for (unsigned seed : {1u, 2u}) meter.Add(SyntheticScan(1200, 1152, seed), 36);
    Result<record::GrainModel> model = meter.Model();
    return model.ok() ? *model : record::GrainModel();
  }();
  return kModel;
}

TEST(GrainMeter, FindsStrengthSpectrumAndCorrelationOfKnownGrain) {
  const record::GrainModel& m = MeasuredModel();
  ASSERT_TRUE(Usable(m));
  EXPECT_GE(m.density.size(), 10u);
  EXPECT_NEAR(m.pitch_um, 30, 1e-9);
  for (std::size_t i = 0; i < m.density.size(); ++i)
    for (int c = 0; c < 3; ++c)
      EXPECT_NEAR(m.sigma[c][i] / TrueSigma(c, m.density[i]), 1, 0.1)
          << "density " << m.density[i] << " layer " << c;
  double sum = 0;
  int count = 0;
  const double pitch_mm = m.pitch_um / 1000;
  for (std::size_t i = 0; i < m.per_mm.size(); ++i) {
    const double f = m.per_mm[i] * pitch_mm;
    if (f < 0.03 || TruePower(f) < 0.03 * TruePower(0)) continue;
    const double db = 10 * std::log10(m.power[i] / (pitch_mm * pitch_mm) / TruePower(f));
    sum += db * db;
    ++count;
  }
  EXPECT_LT(std::sqrt(sum / count), 1.0);
  EXPECT_NEAR(m.red_green, kRg, 0.05);
  EXPECT_NEAR(m.green_blue, kGb, 0.05);
  EXPECT_NEAR(m.red_blue, kRb, 0.05);
}

// Cloth and gravel at the scale of grain, over most of some tones: flat to the eye of the meter, but the same
// in all layers.
TEST(GrainMeter, FineTextureIsNotGrain) {
  constexpr int kWidth = 1200, kHeight = 1152;
  GrainMeter meter;
  for (unsigned seed : {3u, 4u}) {
    image::RgbF scan = SyntheticScan(kWidth, kHeight, seed);
    std::mt19937 engine(seed + 100);
    const std::vector<float> texture = BlurredNoise(kWidth, kHeight, kBlurPx, engine);
    for (int y = 0; y < kHeight; ++y) {
      const int stripe = y * 24 / kHeight;
      if (stripe < 6 || stripe > 9) continue;
      for (int x = 0; x < kWidth * 4 / 5; ++x)
        for (int c = 0; c < 3; ++c)
          scan.at(x, y)[c] *= std::pow(10.0f, -0.03f * texture[static_cast<std::size_t>(y) * kWidth + x]);
    }
    meter.Add(scan, 36);
  }
  const auto m = meter.Model();
  ASSERT_TRUE(m.ok());
  for (std::size_t i = 0; i < m->density.size(); ++i)
    for (int c = 0; c < 3; ++c)
      EXPECT_NEAR(m->sigma[c][i] / TrueSigma(c, m->density[i]), 1, 0.17)
          << "density " << m->density[i] << " layer " << c;
  EXPECT_NEAR(m->red_green, kRg, 0.06);
}

TEST(GrainMeter, SaysWhenThereIsNothingToMeasure) {
  GrainMeter meter;
  EXPECT_EQ(meter.Model().error().code, ErrorCode::kNothingToDo);
  image::RgbF white(600, 400);
  std::fill(white.data().begin(), white.data().end(), 1.0f);
  meter.Add(white, 36);
  std::fill(white.data().begin(), white.data().end(), std::nanf(""));
  meter.Add(white, 36);
  EXPECT_EQ(meter.Model().error().code, ErrorCode::kNothingToDo);
}

// Greys of many tones with the product's grain, back in linear light.
image::RgbF MadeGrain(const record::GrainModel& model, int width, int height, std::uint64_t seed) {
  const NoiseShape shape = ShapeFor(model, std::max(width, height), color::Space::kSrgb, 1, 1);
  NoiseStrip strip;
  strip.Begin(shape, seed, 0, width);
  const Mat3 rec2020 = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  image::RgbF out(width, height);
  std::vector<float> rgbx(4 * width);
  for (int y = 0; y < height; ++y) {
    const double density = 0.12 + 1.7 * (y * 24 / height) / 24;
    const auto grey = static_cast<float>(color::Encode(color::Space::kSrgb, std::pow(10, -density)));
    std::fill(rgbx.begin(), rgbx.end(), grey);
    strip.Add(rgbx.data());
    for (int x = 0; x < width; ++x) {
      Vec3 v{};
      for (int c = 0; c < 3; ++c) v[c] = color::Decode(color::Space::kSrgb, rgbx[4 * x + c]);
      v = Mul(rec2020, v);
      for (int c = 0; c < 3; ++c) out.at(x, y)[c] = static_cast<float>(v[c]);
    }
  }
  return out;
}

TEST(Grain, MadeGrainMeasuresLikeTheScansOnUnseenSeeds) {
  const record::GrainModel& want = MeasuredModel();
  for (std::uint64_t seed : {77ull, 123456789ull}) {
    GrainMeter meter;
    meter.Add(MadeGrain(want, 1200, 1152, seed), 36);
    const auto got = meter.Model();
    ASSERT_TRUE(got.ok());
    for (std::size_t i = 0; i < want.density.size(); ++i)
      for (std::size_t j = 0; j < got->density.size(); ++j)
        if (std::abs(want.density[i] - got->density[j]) < 0.01)
          for (int c = 0; c < 3; ++c)
            EXPECT_NEAR(got->sigma[c][j] / want.sigma[c][i], 1, 0.1)
                << "density " << want.density[i] << " layer " << c;
    double sum = 0;
    int count = 0;
    for (std::size_t i = 2; i < want.power.size(); ++i)
      if (want.power[i] > 0.03 * want.power[2]) {
        const double db = 10 * std::log10(got->power[i] / want.power[i]);
        sum += db * db;
        ++count;
      }
    EXPECT_LT(std::sqrt(sum / count), 1.0);
    EXPECT_NEAR(got->red_green, want.red_green, 0.1);
    EXPECT_NEAR(got->green_blue, want.green_blue, 0.1);
    EXPECT_NEAR(got->red_blue, want.red_blue, 0.1);
  }
}

TEST(Grain, KernelsFitTheSpectrumAtManySizes) {
  for (int px : {600, 1200, 2400, 4800}) {
    const NoiseShape shape = ShapeFor(MeasuredModel(), px, color::Space::kSrgb, 1, 1);
    EXPECT_LT(FitErrorDb(MeasuredModel(), px, 1, shape), 1.0) << px;
  }
  // A film of 12 um clumps on a 36 mm frame, from small pictures to 24 and 100 megapixels.
  const record::GrainModel film = FilmGrain(5, 12, 36);
  for (int px : {1024, 2048, 4096, 6000, 12000}) {
    const NoiseShape shape = ShapeFor(film, px, color::Space::kSrgb, 1, 1);
    EXPECT_LT(FitErrorDb(film, px, 1, shape), 1.0) << px;
  }
}

// Selwyn 1935: granularity times the square root of the aperture's area is constant for apertures large
// against the grain.
TEST(Grain, FollowsSelwynsLaw) {
  const record::GrainModel film = FilmGrain(8, 10, 36);
  const double at200 = SigmaRatio(film, 200), at400 = SigmaRatio(film, 400), at800 = SigmaRatio(film, 800);
  EXPECT_NEAR(at200 * 200 / (at800 * 800), 1, 0.03);
  EXPECT_NEAR(at400 * 400 / (at800 * 800), 1, 0.015);
  // An aperture no larger than the grain sees less than the law says.
  EXPECT_LT(SigmaRatio(film, 10) * 10, 0.8 * at800 * 800);
  // The granularity that was asked for: a square of the same area as the 48 um disc.
  const double side = 48 * std::sqrt(pi / 4);
  const auto one = std::find_if(film.density.begin(), film.density.end(), [](double d) { return d > 0.999; });
  const double sigma1 = film.sigma[0][static_cast<std::size_t>(one - film.density.begin())];
  EXPECT_NEAR(SigmaRatio(film, side) * sigma1, 0.008, 0.0004);
  // The pixels themselves: means over squares of 16 and 32 px.
  const image::RgbF noise = MadeGrain(FilmGrain(8, 40, 36), 1536, 1536, 5);
  const auto block_sigma = [&](int side_px) {
    double sum = 0, squares = 0;
    int count = 0;
    // One tone only: the rows of the first stripe are 64 high.
    for (int y = 0; y + side_px <= 64; y += side_px)
      for (int x = 0; x + side_px <= noise.width(); x += side_px) {
        double mean = 0;
        for (int v = 0; v < side_px; ++v)
          for (int u = 0; u < side_px; ++u)
            mean += -std::log10(noise.at(x + u, y + v)[1]) / (side_px * side_px);
        sum += mean;
        squares += mean * mean;
        ++count;
      }
    return std::sqrt(squares / count - sum * sum / (1.0 * count * count));
  };
  EXPECT_NEAR(block_sigma(16) * 16 / (block_sigma(32) * 32), 1, 0.2);  // 96 squares of 32 px: 7 % by chance
}

TEST(Grain, WhiteNoiseIsUnbiasedAndNeverRepeats) {
  constexpr int kSide = 1024;
  std::vector<float> n(static_cast<std::size_t>(kSide) * kSide);
  double sum = 0, squares = 0, fourth = 0;
  for (int y = 0; y < kSide; ++y)
    for (int x = 0; x < kSide; ++x) {
      const double v = WhiteNoise(42, x, y, 1);
      n[static_cast<std::size_t>(y) * kSide + x] = static_cast<float>(v);
      sum += v;
      squares += v * v;
      fourth += v * v * v * v;
    }
  const double count = static_cast<double>(n.size());
  EXPECT_NEAR(sum / count, 0, 0.005);
  EXPECT_NEAR(squares / count, 1, 0.01);
  EXPECT_NEAR(fourth / count, 2.7, 0.05);  // sum of four uniform bytes: 3 - 1.2 / 4
  // Correlation with itself moved: only chance, 1 / sqrt(count) = 0.001 to 0.002.
  for (const auto& [dx, dy] : {std::pair{1, 0},
                               {0, 1},
                               {1, 1},
                               {2, 0},
                               {0, 2},
                               {64, 0},
                               {0, 64},
                               {128, 128},
                               {256, 0},
                               {0, 256},
                               {512, 0},
                               {0, 512},
                               {511, 3}}) {
    double product = 0;
    int pairs = 0;
    for (int y = 0; y + dy < kSide; ++y)
      for (int x = 0; x + dx < kSide; ++x, ++pairs)
        product +=
            n[static_cast<std::size_t>(y) * kSide + x] * n[static_cast<std::size_t>(y + dy) * kSide + x + dx];
    EXPECT_LT(std::abs(product / pairs), 0.008) << dx << "," << dy;
  }
  for (int other : {0, 2}) {
    double product = 0;
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x)
        product += WhiteNoise(42, x, y, other) * n[static_cast<std::size_t>(y) * kSide + x];
    EXPECT_LT(std::abs(product / count), 0.005);
  }
}

image::RgbF Grey(int width, int height, float value) {
  image::RgbF p(width, height);
  std::fill(p.data().begin(), p.data().end(), value);
  return p;
}

TEST(Grain, OffIsExactlyOff) {
  const image::RgbF in = Grey(700, 40, 0.18f);
  RenderOptions off, zero, on;
  off.grain.model = zero.grain.model = on.grain.model = FilmGrain(6, 10, 36);
  zero.grain.on = true;
  zero.grain.amount = 0;
  on.grain.on = true;
  const auto plain = Render16(in, {}, {});
  EXPECT_EQ(plain->data(), Render16(in, {}, off)->data());
  EXPECT_EQ(plain->data(), Render16(in, {}, zero)->data());
  EXPECT_NE(plain->data(), Render16(in, {}, on)->data());
}

TEST(Grain, TheSameForAnyThreadAndStripAndDifferentForEachFrame) {
  const image::RgbF in = Grey(1500, 50, 0.18f);
  RenderOptions options;
  options.grain.on = true;
  options.grain.model = FilmGrain(6, 30, 36);
  options.grain.seed = 9;
  const auto first = Render16(in, {}, options);
  std::vector<std::uint16_t> there;
  std::thread([&] { there = Render16(in, {}, options)->data(); }).join();
  EXPECT_EQ(first->data(), there);
  options.grain.seed = 10;
  EXPECT_NE(first->data(), Render16(in, {}, options)->data());
  // A strip that begins elsewhere makes the same pixels.
  const NoiseShape shape = ShapeFor(options.grain.model, 1500, color::Space::kSrgb, 1, 1);
  NoiseStrip whole, part;
  whole.Begin(shape, 9, 0, 1500);
  part.Begin(shape, 9, 700, 301);
  std::vector<float> a(4 * 1500, 0.5f), b(4 * 301, 0.5f);
  for (int y = 0; y < 20; ++y) {
    std::fill(a.begin(), a.end(), 0.5f);
    std::fill(b.begin(), b.end(), 0.5f);
    whole.Add(a.data());
    part.Add(b.data());
    for (int i = 0; i < 4 * 301; ++i) ASSERT_EQ(a[4 * 700 + i], b[i]) << y << " " << i;
  }
}

TEST(Grain, AllTargetsAgree) {
  const NoiseShape shape = ShapeFor(FilmGrain(6, 12, 36), 6000, color::Space::kSrgb, 1, 1);
  std::vector<float> reference;
  OnEveryTarget([&] {
    std::vector<float> all;
    for (int width : {1, 7, 16, 33}) {
      NoiseStrip strip;
      strip.Begin(shape, 3, 5, width);
      for (int y = 0; y < 9; ++y) {
        std::vector<float> rgbx(4 * width, 0.1f * static_cast<float>(y + 1));
        strip.Add(rgbx.data());
        all.insert(all.end(), rgbx.begin(), rgbx.end());
      }
    }
    if (reference.empty()) reference = all;
    for (std::size_t i = 0; i < all.size(); ++i) ASSERT_NEAR(all[i], reference[i], 1e-5);
  });
}

TEST(Grain, ADamagedModelIsRefused) {
  const image::RgbF in = Grey(64, 64, 0.18f);
  RenderOptions options;
  options.grain.on = true;
  EXPECT_EQ(Render8(in, {}, options).error().code, ErrorCode::kInvalidArgument);
  options.grain.model = FilmGrain(6, 12, 36);
  EXPECT_TRUE(Render8(in, {}, options).ok());
  options.grain.model.sigma[1][3] = std::nan("");
  EXPECT_EQ(Render8(in, {}, options).error().code, ErrorCode::kInvalidArgument);
}

}  // namespace
}  // namespace samelight::render
