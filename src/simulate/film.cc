#include "simulate/film.h"

#include <algorithm>
#include <cmath>

#include "image/resize.h"
#include "simulate/random.h"

namespace samelight::simulate {
namespace {

using color::Spectrum;
constexpr int kBands = color::kSpectrumCount;

// A bell over wavelength with its own width on each side.
void AddBell(Spectrum& to, double height, double centre_nm, double below_nm, double above_nm) {
  for (int k = 0; k < kBands; ++k) {
    const double d = color::WavelengthNm(k) - centre_nm;
    const double w = d < 0 ? below_nm : above_nm;
    to[k] += height * std::exp(-d * d / (2 * w * w));
  }
}

// The shape of the curve of a layer: density above base against log10 exposure (0 is an 18 % grey at box
// speed).
struct CurvePoints {
  std::vector<double> log_exposure, density;
};
const CurvePoints kSoft{
    {-2.8, -2.2, -1.8, -1.4, -1.0, -0.6, -0.2, 0.2, 0.6, 1.0, 1.4, 1.8, 2.2, 2.6, 3.2},
    {0.00, 0.012, 0.05, 0.15, 0.33, 0.555, 0.80, 1.05, 1.30, 1.545, 1.78, 1.995, 2.17, 2.29, 2.38}};
const CurvePoints kCrisp{
    {-2.8, -2.2, -1.8, -1.4, -1.0, -0.6, -0.2, 0.2, 0.6, 1.0, 1.4, 1.8, 2.2, 2.6, 3.2},
    {0.00, 0.006, 0.025, 0.095, 0.265, 0.52, 0.80, 1.085, 1.37, 1.64, 1.885, 2.09, 2.23, 2.32, 2.37}};

Curve Bent(const CurvePoints& points, double steeper, double faster, Random& random) {
  CurvePoints p = points;
  double wobble = 0;
  for (std::size_t i = 0; i < p.density.size(); ++i) {
    wobble = 0.7 * wobble + random.Normal(0, 0.006);
    p.log_exposure[i] = p.log_exposure[i] / steeper - faster;
    p.density[i] = std::max(0.0, p.density[i] * (1 + wobble));
    if (i > 0) p.density[i] = std::max(p.density[i], p.density[i - 1] + 0.001);
  }
  return Curve(p.log_exposure, p.density);
}

// Curves of the unseen world: one with a long toe, one that stays straight long, one with an early shoulder.
const CurvePoints kLongToe{
    {-2.8, -2.2, -1.8, -1.4, -1.0, -0.6, -0.2, 0.2, 0.6, 1.0, 1.4, 1.8, 2.2, 2.6, 3.2},
    {0.00, 0.03, 0.085, 0.19, 0.345, 0.55, 0.79, 1.05, 1.32, 1.585, 1.83, 2.04, 2.20, 2.31, 2.39}};
const CurvePoints kStraight{
    {-2.8, -2.2, -1.8, -1.4, -1.0, -0.6, -0.2, 0.2, 0.6, 1.0, 1.4, 1.8, 2.2, 2.6, 3.2},
    {0.00, 0.004, 0.02, 0.10, 0.31, 0.55, 0.80, 1.05, 1.30, 1.55, 1.80, 2.05, 2.28, 2.43, 2.52}};
const CurvePoints kEarlyShoulder{
    {-2.8, -2.2, -1.8, -1.4, -1.0, -0.6, -0.2, 0.2, 0.6, 1.0, 1.4, 1.8, 2.2, 2.6, 3.2},
    {0.00, 0.015, 0.055, 0.15, 0.32, 0.56, 0.83, 1.10, 1.34, 1.54, 1.70, 1.82, 1.90, 1.95, 1.98}};

// Where layers see and dyes absorb: widths and centres in nm, heights against the main peak. What colour
// negatives usually have (from memory: cyan dyes peak at 650 to 690 nm, magenta at 535 to 555, yellow at 435
// to 455).
struct Chemistry {
  struct {
    double red_below, red_in_green, green_below, green_in_blue, blue_below, blue_in_green;
  } sees;
  struct {
    double peak, below, above, side_green, side_blue;
  } cyan;
  struct {
    double peak, below, above, side_blue, side_red;
  } magenta;
  struct {
    double peak, below, above, side_green;
  } yellow;
  double held_back[3][3];  // which layer (row) is held back by which, against the strength
};
// Red holds green back most, green both neighbours, blue green (invented, after the usual order of the
// layers).
const Chemistry kUsualChemistry{{38, 0.10, 30, 0.05, 34, 0.015},
                                {662, 48, 52, 0.13, 0.09},
                                {546, 38, 28, 0.20, 0.04},
                                {446, 40, 34, 0.06},
                                {{0, 0.9, 0.35}, {1.1, 0, 0.7}, {0.4, 1.0, 0}}};
// Of the unseen world (invented within the same limits).
const Chemistry kDeepCyan{{46, 0.15, 26, 0.09, 42, 0.03},
                          {680, 58, 48, 0.10, 0.07},
                          {538, 34, 33, 0.24, 0.06},
                          {440, 36, 40, 0.09},
                          {{0, 1.2, 0.1}, {0.7, 0, 1.1}, {0.2, 1.3, 0}}};
const Chemistry kNarrowLayers{{27, 0.05, 22, 0.02, 25, 0.006},
                              {652, 44, 58, 0.16, 0.12},
                              {553, 42, 25, 0.16, 0.025},
                              {452, 44, 31, 0.04},
                              {{0, 0.6, 0.6}, {1.3, 0, 0.4}, {0.8, 0.7, 0}}};
const Chemistry kLateBlue{{34, 0.13, 36, 0.04, 48, 0.02},
                          {670, 52, 60, 0.12, 0.11},
                          {542, 40, 31, 0.26, 0.03},
                          {437, 34, 37, 0.08},
                          {{0, 1.0, 0}, {0.9, 0, 0.9}, {0, 1.4, 0}}};

struct Recipe {
  const char* name;
  double iso;
  const CurvePoints* curve;
  double steeper[3];  // per layer
  double faster[3];   // per layer, log10 exposure
  double inhibition;  // strength
  double red_peak, green_peak, blue_peak;
  double side;  // size of the side absorptions
  double grain, halation;
  const Chemistry* chemistry;
};

// clang-format off
const Recipe kRecipes[3] = {
    {"Weir 160", 160, &kSoft, {0.96, 1.00, 1.07}, {-0.05, 0.0, 0.07}, 0.2, 638, 548, 445, 1.0, 0.0085, 0.015, &kUsualChemistry},
    {"Sluice 800", 800, &kCrisp, {1.05, 0.98, 0.94}, {0.05, 0.0, 0.08}, 0.15, 630, 545, 450, 1.2, 0.016, 0.03, &kUsualChemistry},
    {"Alder 400", 400, &kCrisp, {0.93, 1.0, 1.04}, {0.0, 0.04, -0.05}, 0.25, 645, 552, 452, 0.9, 0.0115, 0.02, &kUsualChemistry},
};
const Recipe kUnseenRecipes[3] = {
    {"Leat 200", 200, &kLongToe, {1.03, 0.98, 1.00}, {0.04, -0.03, 0.0}, 0.28, 652, 540, 462, 1.1, 0.009, 0.01, &kDeepCyan},
    {"Culvert 1600", 1600, &kEarlyShoulder, {0.97, 1.02, 1.05}, {0.0, 0.06, -0.06}, 0.1, 622, 555, 440, 0.85, 0.02, 0.04, &kNarrowLayers},
    {"Osier 100", 100, &kStraight, {1.00, 1.05, 0.95}, {-0.04, 0.0, 0.09}, 0.22, 642, 550, 470, 1.15, 0.007, 0.025, &kLateBlue},
};
// clang-format on

Stock Make(const Recipe& recipe, Random random) {
  Stock s;
  s.name = recipe.name;
  s.iso = recipe.iso;
  s.grain = recipe.grain * random.Uniform(0.9, 1.1);
  s.halation = recipe.halation * random.Uniform(0.8, 1.2);
  const auto near = [&](double centre, double by) { return centre + random.Uniform(-by, by); };

  const Chemistry& chemistry = *recipe.chemistry;
  const auto& sees = chemistry.sees;
  for (Spectrum& layer : s.layers) layer.fill(0);
  AddBell(s.layers[0], 1.0, near(recipe.red_peak, 5), near(sees.red_below, 4), near(20, 2));
  AddBell(s.layers[0], near(sees.red_in_green, 0.03), 560, 25, 25);
  AddBell(s.layers[0], near(0.012, 0.006), 430, 30, 30);
  AddBell(s.layers[1], 1.0, near(recipe.green_peak, 4), near(sees.green_below, 3), near(20, 2));
  AddBell(s.layers[1], near(sees.green_in_blue, 0.02), 470, 28, 25);
  AddBell(s.layers[2], 1.0, near(recipe.blue_peak, 5), near(sees.blue_below, 3), near(28, 3));
  AddBell(s.layers[2], near(sees.blue_in_green, 0.008), 530, 22, 22);

  for (int c = 0; c < 3; ++c)
    s.dye_from_log_exposure[c] =
        Bent(*recipe.curve, recipe.steeper[c] * near(1, 0.02), recipe.faster[c] + near(0, 0.02), random);
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c)
      s.inhibition[r][c] = recipe.inhibition * chemistry.held_back[r][c] * near(1, 0.1);

  for (Spectrum& dye : s.dye) dye.fill(0);
  const auto& cyan = chemistry.cyan;
  const auto& magenta = chemistry.magenta;
  const auto& yellow = chemistry.yellow;
  AddBell(s.dye[0], 1.0, near(cyan.peak, 4), near(cyan.below, 3), near(cyan.above, 3));
  AddBell(s.dye[0], near(cyan.side_green, 0.02) * recipe.side, 545, 45, 45);
  AddBell(s.dye[0], near(cyan.side_blue, 0.02) * recipe.side, 430, 35, 45);
  AddBell(s.dye[1], 1.0, near(magenta.peak, 3), near(magenta.below, 2), near(magenta.above, 2));
  AddBell(s.dye[1], near(magenta.side_blue, 0.03) * recipe.side, 445, 35, 40);
  AddBell(s.dye[1], near(magenta.side_red, 0.01) * recipe.side, 650, 35, 45);
  AddBell(s.dye[2], 1.0, near(yellow.peak, 3), near(yellow.below, 3), near(yellow.above, 2));
  AddBell(s.dye[2], near(yellow.side_green, 0.02) * recipe.side, 540, 30, 35);
  for (Spectrum& mask : s.mask) mask.fill(0);
  AddBell(s.mask[0], near(0.30, 0.03) * recipe.side, 535, 45, 40);  // red-coloured cyan coupler
  AddBell(s.mask[0], near(0.18, 0.03) * recipe.side, 440, 40, 45);
  AddBell(s.mask[1], near(0.50, 0.05) * recipe.side, 440, 38, 40);  // yellow-coloured magenta coupler
  s.base.fill(0.10);
  AddBell(s.base, 0.08, 400, 40, 60);
  return s;
}

// Without colour: one panchromatic layer, copied three times, a grey image.
Stock MakeMonochrome(Random random) {
  Stock s;
  s.name = "Soot 400";
  s.iso = 400;
  s.black_and_white = true;
  s.grain = 0.016;
  Spectrum sees{};
  AddBell(sees, 0.9, 450, 45, 40);
  AddBell(sees, 0.8, 560, 50, 30);
  AddBell(sees, 0.7, 620, 30, 25);
  s.layers = {sees, sees, sees};
  const Curve curve = Bent(kCrisp, 0.95, 0.0, random);
  s.dye_from_log_exposure = {curve, curve, curve};
  Spectrum grey;
  grey.fill(1.0 / 3);
  s.dye = {grey, grey, grey};
  for (Spectrum& mask : s.mask) mask.fill(0);
  s.base.fill(0.22);
  return s;
}

// What a layer loses to its neighbours: they act by the density that they would reach alone, so the stronger
// a neighbour develops the more of this layer stays undeveloped.
void Dyes(const Stock& stock, const std::array<FastCurve, 3>& curves, float log_exposure[3]) {
  float alone[3];
  for (int c = 0; c < 3; ++c) alone[c] = curves[c](log_exposure[c]);
  for (int c = 0; c < 3; ++c) {
    double loss = 0;
    for (int other = 0; other < 3; ++other) loss += stock.inhibition[c][other] * alone[other];
    log_exposure[c] = curves[c](static_cast<float>(log_exposure[c] - loss));
  }
}

std::array<FastCurve, 3> Pushed(const Stock& stock, double push_ev) {
  std::array<FastCurve, 3> fast;
  for (int c = 0; c < 3; ++c) {
    // Longer development makes the curve steeper and gains a third of the push in speed (common practice).
    std::vector<double> x, y;
    for (int i = 0; i <= 120; ++i) {
      const double at = -4 + 0.0667 * i;
      x.push_back(at);
      y.push_back(stock.dye_from_log_exposure[c](at + 0.1 * push_ev) * (1 + 0.09 * push_ev) + 1e-6 * i);
    }
    fast[c] = FastCurve(Curve(x, y), -4, 4);
  }
  return fast;
}

// A plane of noise with unit deviation whose grains are about `size_px` wide.
image::PlaneF GrainPlane(int width, int height, double size_px, std::uint64_t seed) {
  image::PlaneF noise(width, height);
  for (int y = 0; y < height; ++y) {
    Random random(seed, {static_cast<std::uint64_t>(y)});
    float* row = noise.row(y);
    for (int x = 0; x < width; ++x) row[x] = random.QuickNormal();
  }
  noise = image::Blur(noise, size_px);
  double sum2 = 0;
  for (float v : noise.data()) sum2 += static_cast<double>(v) * v;
  const float scale = static_cast<float>(1 / std::sqrt(sum2 / noise.pixels()));
  for (float& v : noise.data()) v *= scale;
  return noise;
}

}  // namespace

std::vector<Stock> MakeStocks(std::uint64_t seed, World world) {
  const Recipe* recipes = world == World::kUnseen ? kUnseenRecipes : kRecipes;
  std::vector<Stock> stocks;
  for (std::uint64_t i = 0; i < 3; ++i) stocks.push_back(Make(recipes[i], Random(seed, {0xf11, i})));
  stocks.push_back(MakeMonochrome(Random(seed, {0xf11, 3})));
  return stocks;
}

Vec3 DaylightReference(const Stock& stock) {
  return Respond(stock.layers, UnitY(color::DaylightSpectrum(5500)));
}

Vec3 DyesOf(const Stock& stock, const Vec3& log_exposure, double push_ev) {
  float v[3] = {static_cast<float>(log_exposure[0]), static_cast<float>(log_exposure[1]),
                static_cast<float>(log_exposure[2])};
  Dyes(stock, Pushed(stock, push_ev), v);
  return {v[0], v[1], v[2]};
}

image::RgbF Develop(const Stock& stock, const image::RgbF& exposure, const Development& how) {
  const int width = exposure.width(), height = exposure.height();
  const auto curves = Pushed(stock, how.push_ev);
  image::RgbF glow;
  if (how.halation && stock.halation > 0) glow = image::Blur(exposure, 0.004 * std::max(width, height));
  image::RgbF out(width, height);
  const float over = static_cast<float>(std::exp2(how.over_ev) / 0.18);
  const float back[3] = {static_cast<float>(how.halation ? stock.halation : 0),
                         static_cast<float>(how.halation ? stock.halation * 0.3 : 0), 0};
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const float* in = exposure.data().data() + 3 * i;
    float* to = out.data().data() + 3 * i;
    for (int c = 0; c < 3; ++c) {
      float e = in[c];
      if (back[c] > 0) e = (1 - back[c]) * e + back[c] * glow.data()[3 * i + c];
      to[c] = std::log10(std::max(e * over, 1e-5f));
    }
    Dyes(stock, curves, to);
  }
  if (how.grain) {
    const float relative[3] = {0.9f, 1.0f, 1.6f};
    const double at_pixel = stock.grain * 37 / how.pixel_um * (1 + 0.15 * how.push_ev);
    for (int c = 0; c < 3; ++c) {
      const int plane = stock.black_and_white ? 0 : c;
      const auto noise = GrainPlane(width, height, 0.55 + 0.1 * plane, how.grain_seed + plane * 7919);
      const float strength = static_cast<float>(at_pixel * (stock.black_and_white ? 1.0f : relative[c]));
      for (std::size_t i = 0; i < out.pixels(); ++i) {
        float& d = out.data()[3 * i + c];
        d = std::max(0.0f, d + strength * std::sqrt(std::max(d, 0.03f)) * noise.data()[i]);
      }
    }
  }
  return out;
}

Spectrum DensityOf(const Stock& stock, const Vec3& dyes) {
  Spectrum density = stock.base;
  for (int c = 0; c < 3; ++c) {
    const double left = std::max(0.0, 1 - dyes[c] / stock.most_dye);
    for (int k = 0; k < kBands; ++k) density[k] += dyes[c] * stock.dye[c][k] + left * stock.mask[c][k];
  }
  return density;
}

}  // namespace samelight::simulate
