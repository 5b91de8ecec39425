#include "simulate/lab.h"

#include <algorithm>
#include <cmath>

#include "image/resize.h"
#include "simulate/random.h"

namespace samelight::simulate {
namespace {

constexpr int kBands = color::kSpectrumCount;
constexpr double kMostDye = 3.0;
constexpr double kMild = 0.10;  // density difference between channels that still counts as mild
constexpr double kDensityPart =
    0.55;  // how much of a wrong density the lab corrects for what is in the picture
constexpr double kColourPart = 0.62;  // how much of a cast

// Log10 of the display-linear positive against density of the negative from grey: a paper-like S (invented
// points).
const std::vector<double> kPaperDensity{-1.2, -0.9, -0.7, -0.5, -0.35, -0.2, -0.1, 0,
                                        0.1,  0.2,  0.35, 0.5,  0.7,   1.0,  1.5};
const std::vector<double> kPaperLog{-2.72,  -2.45,  -2.15,  -1.76,  -1.43,  -1.10,  -0.90, -0.72,
                                    -0.555, -0.415, -0.245, -0.135, -0.052, -0.012, 0.0};
// The unseen lab's: a longer toe, a later shoulder; its automat; its scanner's lamps in nm.
const std::vector<double> kLongToePaperLog{-2.40,  -2.21,  -1.99,  -1.68,  -1.39,  -1.09,  -0.905, -0.72,
                                           -0.545, -0.390, -0.205, -0.100, -0.036, -0.008, 0.0};
constexpr double kMiddleDensityPart = 0.45, kMiddleContentPart = 0.45, kMiddleLightPart = 0.55;
constexpr double kMostCast = 0.10;    // density; what the content alone may move the colour by
constexpr double kMiddleWidth = 0.3;  // of the picture's diagonal
constexpr double kEyes[2][3] = {{655, 540, 450}, {638, 530, 458}},
                 kEyeWidth[2][3] = {{16, 16, 15}, {10, 13, 10}};

}  // namespace

Lab::Lab(const Stock& stock, std::uint64_t seed, double push_ev, World world) : stock_(stock), world_(world) {
  Random random(seed, {0x1ab});
  const bool unseen = world == World::kUnseen;
  const auto &centre = kEyes[unseen], &width = kEyeWidth[unseen];
  for (int c = 0; c < 3; ++c) {
    const double at = centre[c] + random.Uniform(-5, 5), w = width[c] * random.Uniform(0.85, 1.15);
    for (int k = 0; k < kBands; ++k) {
      const double d = (color::WavelengthNm(k) - at) / w;
      eyes_[c][k] = std::exp(-d * d / 2);
    }
  }
  unexposed_ = Densities({0, 0, 0});
  // Masking: most of what the side absorptions mix is taken apart again, by the slopes at a middle density.
  const double step = 0.05;
  const Vec3 middle = Densities({1, 1, 1});
  Mat3 mixing{};
  for (int c = 0; c < 3; ++c) {
    Vec3 more{1, 1, 1};
    more[c] += step;
    const Vec3 d = Densities(more);
    for (int r = 0; r < 3; ++r) mixing[r][c] = (d[r] - middle[r]) / step;
  }
  if (!stock.black_and_white) {
    const Mat3 apart = Inverse(mixing);
    const double strength = random.Uniform(0.75, 0.9);
    for (int r = 0; r < 3; ++r)
      for (int c = 0; c < 3; ++c) masking_[r][c] = strength * apart[r][c] + (r == c ? 1 - strength : 0);
    for (auto& row : masking_) {
      const double sum = row[0] + row[1] + row[2];
      for (double& v : row) v /= sum;
    }
  }
  const double grey = std::log10(2.0);  // one stop over, as the photographer rates it
  grey_ = Mul(masking_, Densities(DyesOf(stock, {grey, grey, grey}, push_ev)));
  std::vector<double> paper = unseen ? kLongToePaperLog : kPaperLog;
  const double house = random.Uniform(1.0, 1.15);
  if (!stock.black_and_white) {
    for (double& v : slope_) v = random.Normal(1, 0.05);
    for (double& v : house_) v = random.Normal(0, 0.028);
  }
  for (double& v : paper) v = -0.72 + (v + 0.72) * (v < -0.72 ? house : 1);
  paper_ = FastCurve(Curve(kPaperDensity, paper), kPaperDensity.front(), kPaperDensity.back());
  aim_ = random.Uniform(0.05, 0.12);
  table_.resize(kSide * kSide * kSide);
  for (int b = 0; b < kSide; ++b)
    for (int g = 0; g < kSide; ++g)
      for (int r = 0; r < kSide; ++r) {
        const double to = kMostDye / (kSide - 1);
        const Vec3 d = ScanExactly({r * to, g * to, b * to});
        for (int c = 0; c < 3; ++c) table_[(b * kSide + g) * kSide + r][c] = static_cast<float>(d[c]);
      }
}

Vec3 Lab::Densities(const Vec3& dyes) const {
  const color::Spectrum density = DensityOf(stock_, dyes);
  Vec3 through{}, open{}, out{};
  for (int k = 0; k < kBands; ++k) {
    const double t = std::exp(-2.302585092994046 * density[k]);
    for (int c = 0; c < 3; ++c) {
      through[c] += eyes_[c][k] * t;
      open[c] += eyes_[c][k];
    }
  }
  for (int c = 0; c < 3; ++c) out[c] = -std::log10(through[c] / open[c]) - unexposed_[c];
  return out;
}

Vec3 Lab::ScanExactly(const Vec3& dyes) const {
  Vec3 d = Mul(masking_, Densities(dyes));
  for (int c = 0; c < 3; ++c) d[c] -= grey_[c];
  return d;
}

image::RgbF Lab::Scan(const image::RgbF& dyes) const {
  image::RgbF out(dyes.width(), dyes.height());
  const float scale = static_cast<float>((kSide - 1) / kMostDye);
  const float* in = dyes.data().data();
  float* to = out.data().data();
  for (std::size_t i = 0; i < out.pixels(); ++i, in += 3, to += 3) {
    int cell[3];
    float f[3];
    for (int c = 0; c < 3; ++c) {
      const float at = std::clamp(in[c] * scale, 0.0f, static_cast<float>(kSide - 1));
      cell[c] = std::min(static_cast<int>(at), kSide - 2);
      f[c] = at - cell[c];
    }
    const auto* base = &table_[(cell[2] * kSide + cell[1]) * kSide + cell[0]];
    constexpr int kUp[3] = {1, kSide, kSide * kSide};
    for (int c = 0; c < 3; ++c) {
      const auto along = [&](int offset) {
        return base[offset][c] + f[0] * (base[offset + 1][c] - base[offset][c]);
      };
      const float low = along(0) + f[1] * (along(kUp[1]) - along(0));
      const float high = along(kUp[2]) + f[1] * (along(kUp[2] + kUp[1]) - along(kUp[2]));
      to[c] = low + f[2] * (high - low);
    }
  }
  return out;
}

LabSetting Lab::Automatic(const image::RgbF& densities, const Vec3& grey_card) const {
  const image::RgbF small = image::ShrinkTo(densities, 160);
  if (world_ == World::kUnseen) return AutomaticByMiddle(small, grey_card);
  const double n = static_cast<double>(small.pixels());
  const auto mean_of = [](const Vec3& v) { return (v[0] + v[1] + v[2]) / 3; };
  Vec3 content{};
  double total = 0, level = 0, level2 = 0, middle = 0;
  std::array<std::vector<float>, 3> all;
  for (std::size_t i = 0; i < small.pixels(); ++i) {
    Vec3 d;
    double grey = 0;
    for (int c = 0; c < 3; ++c) {
      const float value = small.data()[3 * i + c];
      all[c].push_back(value);
      d[c] = std::clamp<double>(value, -0.7, 0.8);
      grey += std::clamp(value, -0.9f, 0.9f) / 3;
    }
    // Colours far from the card's count less: a print must not turn green because of a red wall (printers
    // call it subject failure when it does; common practice).
    double chroma2 = 0;
    for (int c = 0; c < 3; ++c)
      chroma2 += std::pow(d[c] - mean_of(d) - (grey_card[c] - mean_of(grey_card)), 2);
    const double weight = 1 / (1 + chroma2 / (kMild * kMild));
    for (int c = 0; c < 3; ++c) content[c] += weight * d[c];
    total += weight;
    middle += mean_of(d) / n;
    level += grey / n;
    level2 += grey * grey / n;
  }
  for (double& v : content) v /= total;
  LabSetting setting;
  for (int c = 0; c < 3; ++c) {
    const double cast = 0.5 * (content[c] - mean_of(content)) + 0.5 * (grey_card[c] - mean_of(grey_card));
    setting.shift[c] = house_[c] - kDensityPart * (middle - aim_) - kColourPart * cast;
  }
  const double deviation = std::sqrt(std::max(0.0, level2 - level * level));
  setting.contrast = std::clamp(std::pow(0.33 / std::max(deviation, 0.05), 0.22), 0.93, 1.09);
  // Black point: half of the way from what the darkest hundredth would print to black.
  for (int c = 0; c < 3; ++c) {
    auto at = all[c].begin() + all[c].size() / 100;
    std::nth_element(all[c].begin(), at, all[c].end());
    const double z = *at * setting.contrast * slope_[c] + setting.shift[c];
    setting.black[c] = std::clamp(0.5 * (std::pow(10.0, paper_(static_cast<float>(z))) - 0.004), 0.0, 0.02);
  }
  return setting;
}

LabSetting Lab::AutomaticByMiddle(const image::RgbF& small, const Vec3& grey_card) const {
  const auto mean_of = [](const Vec3& v) { return (v[0] + v[1] + v[2]) / 3; };
  const double across = kMiddleWidth * std::hypot(small.width(), small.height());
  Vec3 content{};
  double total = 0;
  std::vector<float> levels;
  for (int y = 0; y < small.height(); ++y)
    for (int x = 0; x < small.width(); ++x) {
      const double dx = (x + 0.5 - small.width() / 2.0) / across,
                   dy = (y + 0.5 - small.height() / 2.0) / across;
      const double weight = std::exp(-(dx * dx + dy * dy) / 2);
      const float* p = small.at(x, y);
      for (int c = 0; c < 3; ++c) content[c] += weight * std::clamp<double>(p[c], -0.8, 0.9);
      total += weight;
      levels.push_back((p[0] + p[1] + p[2]) / 3);
    }
  for (double& v : content) v /= total;
  std::sort(levels.begin(), levels.end());
  const auto rank = [&](double share) {
    return levels[static_cast<std::size_t>(share * static_cast<double>(levels.size() - 1))];
  };
  LabSetting setting;
  for (int c = 0; c < 3; ++c) {
    const double light = grey_card[c] - mean_of(grey_card), cast = content[c] - mean_of(content) - light;
    setting.shift[c] = house_[c] - kMiddleDensityPart * (mean_of(content) - aim_) - kMiddleLightPart * light -
                       kMiddleContentPart * kMostCast * std::tanh(cast / kMostCast);
  }
  // The middle eight tenths of a normal scene span 2.56 deviations.
  const double deviation = (rank(0.9) - rank(0.1)) / 2.56;
  setting.contrast = std::clamp(std::pow(0.33 / std::max(deviation, 0.05), 0.3), 0.91, 1.11);
  const double darkest = rank(0.005) * setting.contrast * mean_of(slope_) + mean_of(setting.shift);
  const double black =
      std::clamp(0.4 * (std::pow(10.0, paper_(static_cast<float>(darkest))) - 0.004), 0.0, 0.02);
  setting.black = {black, black, black};
  return setting;
}

image::RgbF Lab::Print(const image::RgbF& densities, const LabSetting& setting) const {
  image::RgbF out(densities.width(), densities.height());
  const float* in = densities.data().data();
  float* to = out.data().data();
  for (std::size_t i = 0; i < out.pixels(); ++i)
    for (int c = 0; c < 3; ++c, ++in, ++to) {
      const float log = paper_(*in * static_cast<float>(setting.contrast * slope_[c]) +
                               static_cast<float>(setting.shift[c]));
      const float linear = std::exp(2.302585093f * log), black = static_cast<float>(setting.black[c]);
      *to = std::clamp((linear - black) / (1 - black), 0.0f, 1.0f);
    }
  return out;
}

}  // namespace samelight::simulate
