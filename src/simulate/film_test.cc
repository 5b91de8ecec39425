#include "simulate/film.h"

#include <gtest/gtest.h>

#include <cmath>

namespace samelight::simulate {
namespace {

double At(const color::Spectrum& s, int nm) {
  return s[(nm - color::kSpectrumFirstNm) / color::kSpectrumStepNm];
}

std::vector<Stock> OfBothWorlds(std::uint64_t seed) {
  auto stocks = MakeStocks(seed);
  for (const Stock& stock : MakeStocks(seed, World::kUnseen)) stocks.push_back(stock);
  return stocks;
}

TEST(Film, DensityRisesWithExposureFromToeToShoulder) {
  for (const Stock& stock : OfBothWorlds(1)) {
    Vec3 last{-1, -1, -1};
    for (double e = -3; e <= 3.2; e += 0.05) {
      const Vec3 dyes = DyesOf(stock, {e, e, e}, 0);
      for (int c = 0; c < 3; ++c) {
        EXPECT_GE(dyes[c], last[c] - 1e-4) << stock.name << " " << e;
        EXPECT_LT(dyes[c], 3);
      }
      last = dyes;
    }
  }
}

// Average gradient of camera negatives over the useful part, about 0.55 to 0.65, and their latitude (from
// memory, common practice); the bounds leave room for stocks of a harder and a softer kind.
TEST(Film, AverageGradientIsThatOfACameraNegative) {
  const std::size_t usual = MakeStocks(2).size();
  const auto stocks = OfBothWorlds(2);
  for (std::size_t i = 0; i < stocks.size(); ++i) {
    const Stock& stock = stocks[i];
    if (stock.black_and_white) continue;
    const Vec3 low = DyesOf(stock, {-0.6, -0.6, -0.6}, 0), high = DyesOf(stock, {0.9, 0.9, 0.9}, 0);
    for (int c = 0; c < 3; ++c) {
      const double gradient = (high[c] - low[c]) / 1.5;
      EXPECT_GT(gradient, i < usual ? 0.40 : 0.37) << stock.name;  // one unseen stock is softer than all
      EXPECT_LT(gradient, 0.70) << stock.name;
    }
  }
}

TEST(Film, LayersHoldEachOtherBack) {
  for (const Stock& stock : OfBothWorlds(3)) {
    if (stock.black_and_white) continue;
    const double dark = -3;
    for (int c = 0; c < 3; ++c) {
      Vec3 alone{dark, dark, dark};
      alone[c] = 0.6;
      EXPECT_GT(DyesOf(stock, alone, 0)[c], DyesOf(stock, {0.6, 0.6, 0.6}, 0)[c] + 0.05) << stock.name;
    }
  }
}

// Unexposed colour negative is orange: densities rise from red to green to blue. Laboratory aims on a grey
// patch 0.80 / 1.20 / 1.60 Status M have the same order (from memory).
TEST(Film, MaskIsOrange) {
  for (const Stock& stock : OfBothWorlds(4)) {
    if (stock.black_and_white) continue;
    const auto clear = DensityOf(stock, {0, 0, 0});
    EXPECT_GT(At(clear, 440), At(clear, 540) + 0.15) << stock.name;
    EXPECT_GT(At(clear, 540), At(clear, 650) + 0.1) << stock.name;
  }
}

// The coloured coupler is used up as dye forms, so that the side absorption of cyan and mask together change
// little at 540 nm against the main absorption (the reason for masks; Hanson 1950, J. Opt. Soc. Am. 40, 166,
// from memory).
TEST(Film, MaskEvensOutSideAbsorption) {
  for (const Stock& stock : OfBothWorlds(5)) {
    if (stock.black_and_white) continue;
    const auto none = DensityOf(stock, {0, 0, 0}), cyan = DensityOf(stock, {1, 0, 0});
    const double main = At(cyan, 660) - At(none, 660), side = At(cyan, 540) - At(none, 540);
    EXPECT_GT(main, 0.9);
    EXPECT_LT(std::abs(side), 0.15 * main) << stock.name;
  }
}

image::RgbF Flat(float value, int side) {
  image::RgbF out(side, side);
  std::fill(out.data().begin(), out.data().end(), value);
  return out;
}

double Deviation(const image::RgbF& picture, int channel) {
  double sum = 0, square = 0;
  for (std::size_t i = 0; i < picture.pixels(); ++i) {
    sum += picture.data()[3 * i + channel];
    square += std::pow(picture.data()[3 * i + channel], 2);
  }
  const double mean = sum / picture.pixels();
  return std::sqrt(square / picture.pixels() - mean * mean);
}

TEST(Film, GrainGrowsWithTheRootOfDensityAndWithSmallerPixels) {
  const Stock stock = MakeStocks(1)[0];
  Development how;
  how.grain = true;
  how.grain_seed = 5;
  const double thin = Deviation(Develop(stock, Flat(0.03f, 128), how), 1);
  const image::RgbF dense_picture = Develop(stock, Flat(1.5f, 128), how);
  const double dense = Deviation(dense_picture, 1);
  EXPECT_GT(dense, 1.3 * thin);
  // sigma_D about proportional to the root of D for one layer (Nutting 1913; Siedentopf 1937, from memory).
  EXPECT_NEAR(dense, stock.grain * std::sqrt(dense_picture.data()[1]), 0.15 * dense);
  // Selwyn 1935: sigma falls as 1 over the diameter (from memory).
  how.pixel_um = 18.5;
  EXPECT_NEAR(Deviation(Develop(stock, Flat(1.5f, 128), how), 1) / dense, 2, 0.2);
}

TEST(Film, GrainIsTheSameForTheSameSeed) {
  const Stock stock = MakeStocks(1)[1];
  Development how;
  how.grain = true;
  how.grain_seed = 9;
  EXPECT_EQ(Develop(stock, Flat(0.2f, 40), how).data(), Develop(stock, Flat(0.2f, 40), how).data());
  Development other = how;
  other.grain_seed = 10;
  EXPECT_NE(Develop(stock, Flat(0.2f, 40), how).data(), Develop(stock, Flat(0.2f, 40), other).data());
}

TEST(Film, PushIsSteeper) {
  const Stock stock = MakeStocks(1)[1];
  const auto gradient = [&](double push) {
    return DyesOf(stock, {0.6, 0.6, 0.6}, push)[1] - DyesOf(stock, {-0.4, -0.4, -0.4}, push)[1];
  };
  EXPECT_GT(gradient(1), 1.04 * gradient(0));
}

TEST(Film, SeedsBendTheStocks) {
  const auto a = MakeStocks(1), b = MakeStocks(2);
  EXPECT_EQ(a[0].name, b[0].name);
  EXPECT_NE(DyesOf(a[0], {0, 0, 0}, 0), DyesOf(b[0], {0, 0, 0}, 0));
}

}  // namespace
}  // namespace samelight::simulate
