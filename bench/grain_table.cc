// Grain that the product makes, held against scans that it has not seen.
//
//   grain_table DEMO...
//
// DEMO is a folder that `samelight demo` wrote (or one like it: film/ROLL/scans). Of each roll every other
// scan gives the model, as a delivery measures it; the rest are only measured. Made grain lies on steps of
// grey at the scans' own size, for two seeds of frames; it is measured by the same meter. Printed: strength
// by tone, spectrum, and correlation between layers, made against the scans that gave the model and against
// the others; strength also as it is, without the meter's choice of patches; the scans against each other say
// how far two halves of one roll agree. Exit status 1 when made grain is further from its scans than 10 % (as
// it is), 1 dB or 0.1.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/matrix.h"
#include "codec/read.h"
#include "color/space.h"
#include "render/grain.h"
#include "render/grain_meter.h"

namespace samelight::bench {
namespace {

namespace fs = std::filesystem;
using record::GrainModel;

constexpr double kFilmLongSideMm = 36;

bool Grey(const image::RgbF& scan) {
  double chroma = 0, level = 0;
  for (std::size_t i = 0; i + 2 < scan.data().size(); i += 3 * 97) {
    const float* p = &scan.data()[i];
    chroma += std::abs(p[0] - p[1]) + std::abs(p[2] - p[1]);
    level += p[1];
  }
  return chroma < 0.02 * level;
}

struct Halves {
  Result<GrainModel> model, others;
  int long_side_px = 0, scans = 0;
};
Halves Measure(const fs::path& roll) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::recursive_directory_iterator(roll))
    if (entry.is_regular_file() && codec::LooksLikePicture(entry.path())) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  render::GrainMeter meters[2];
  Halves halves{Error{}, Error{}, 0, 0};
  for (const fs::path& file : files) {
    const auto picture = codec::ReadPicture(file);
    if (!picture.ok() || Grey(picture->pixels)) continue;
    meters[halves.scans++ % 2].Add(picture->pixels, kFilmLongSideMm);
    halves.long_side_px = std::max(picture->pixels.width(), picture->pixels.height());
  }
  halves.model = meters[0].Model();
  halves.others = meters[1].Model();
  return halves;
}

constexpr int kSteps = 24, kStepRows = 48;  // a step of grey is as high as the meter's patches
std::size_t ToneOf(int y, const GrainModel& model) {
  return static_cast<std::size_t>(y / kStepRows) % model.density.size();
}

// Steps of grey with the product's grain, in linear light; the long side is the scans'.
image::RgbF Made(const GrainModel& model, int long_side_px, std::uint64_t seed) {
  const int width = long_side_px, height = kSteps * kStepRows;
  const render::NoiseShape shape = render::ShapeFor(model, long_side_px, color::Space::kSrgb, 1, 1);
  render::NoiseStrip strip;
  strip.Begin(shape, seed, 0, width);
  const Mat3 rec2020 = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  image::RgbF out(width, height);
  std::vector<float> rgbx(4 * static_cast<std::size_t>(width));
  for (int y = 0; y < height; ++y) {
    const double density = model.density[ToneOf(y, model)];
    std::fill(rgbx.begin(), rgbx.end(),
              static_cast<float>(color::Encode(color::Space::kSrgb, std::pow(10, -density))));
    strip.Add(rgbx.data());
    for (int x = 0; x < width; ++x) {
      Vec3 v{};
      for (std::size_t c = 0; c < 3; ++c)
        v[c] = color::Decode(color::Space::kSrgb, rgbx[4 * static_cast<std::size_t>(x) + c]);
      v = Mul(rec2020, v);
      for (std::size_t c = 0; c < 3; ++c) out.at(x, y)[c] = static_cast<float>(v[c]);
    }
  }
  return out;
}

// Strength of each tone of that picture as it is: root mean square of density against the mean of each square
// of a step, without the meter's choice of patches and its smooth arch.
GrainModel Strengths(const image::RgbF& made, const GrainModel& model) {
  const Mat3 srgb = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  GrainModel found = model;
  std::vector<double> count(model.density.size(), 0);
  for (auto& layer : found.sigma) layer.assign(model.density.size(), 0);
  for (int y0 = 0; y0 < made.height(); y0 += kStepRows)
    for (int x0 = 0; x0 + kStepRows <= made.width(); x0 += kStepRows) {
      double sum[3] = {}, squares[3] = {};
      for (int i = 0; i < kStepRows * kStepRows; ++i) {
        const float* p = made.at(x0 + i % kStepRows, y0 + i / kStepRows);
        const Vec3 linear = Mul(srgb, Vec3{p[0], p[1], p[2]});
        for (int c = 0; c < 3; ++c) {
          const double d = -std::log10(std::max(linear[c], 1e-6));
          sum[c] += d;
          squares[c] += d * d;
        }
      }
      constexpr double n = kStepRows * kStepRows;
      const std::size_t tone = ToneOf(y0, model);
      ++count[tone];
      for (std::size_t c = 0; c < 3; ++c)
        found.sigma[c][tone] += (squares[c] - sum[c] / n * sum[c]) / (n - 1);
    }
  for (auto& layer : found.sigma)
    for (std::size_t i = 0; i < layer.size(); ++i) layer[i] = std::sqrt(layer[i] / std::max(1.0, count[i]));
  return found;
}

// What the steps of an 8-bit sRGB file add at a density: less grain than this neither scan nor frame can
// show.
double StepNoise(double density) {
  const double encoded = color::Encode(color::Space::kSrgb, std::pow(10, -density)), step = 1.0 / 255;
  return std::log10(color::Decode(color::Space::kSrgb, encoded) /
                    color::Decode(color::Space::kSrgb, encoded - step)) /
         std::sqrt(12);
}

struct Distance {
  double sigma_most = 0, sigma_rms = 0, spectrum_db = 0, correlation = 0;
  int tones = 0;  // times layers
};
// Over the tones that both have, where either's strength is above the steps of a file, and frequencies down
// to 3 % of the strongest.
Distance Between(const GrainModel& a, const GrainModel& b) {
  Distance d;
  double sum = 0;
  int count = 0;
  for (std::size_t i = 0; i < a.density.size(); ++i)
    for (std::size_t j = 0; j < b.density.size(); ++j) {
      if (std::abs(a.density[i] - b.density[j]) > 0.01) continue;
      for (std::size_t c = 0; c < 3; ++c) {
        if (std::max(a.sigma[c][i], b.sigma[c][j]) < StepNoise(b.density[j])) continue;
        const double off = a.sigma[c][i] / b.sigma[c][j] - 1;
        d.sigma_most = std::max(d.sigma_most, std::abs(off));
        sum += off * off;
        ++count;
      }
    }
  d.sigma_rms = std::sqrt(sum / std::max(1, count));
  d.tones = count;
  const double peak = *std::max_element(b.power.begin(), b.power.end());
  sum = count = 0;
  for (std::size_t i = 2; i < std::min(a.power.size(), b.power.size()); ++i)
    if (b.power[i] > 0.03 * peak) {
      const double db = 10 * std::log10(std::max(a.power[i], 1e-12) / b.power[i]);
      sum += db * db;
      ++count;
    }
  d.spectrum_db = std::sqrt(sum / std::max(1, count));
  d.correlation = std::max({std::abs(a.red_green - b.red_green), std::abs(a.green_blue - b.green_blue),
                            std::abs(a.red_blue - b.red_blue)});
  return d;
}

void Print(const std::string& what, const Distance& d) {
  if (d.tones == 0)
    std::printf("  %-38s %-26s  %5.2f dB  %5.2f\n", what.c_str(), "no tone in common", d.spectrum_db,
                d.correlation);
  else
    std::printf("  %-38s %5.1f %% rms, %5.1f %% at most  %5.2f dB  %5.2f\n", what.c_str(), 100 * d.sigma_rms,
                100 * d.sigma_most, d.spectrum_db, d.correlation);
}

// Whether made grain is near enough; nothing when the roll does not show its own twice.
std::optional<bool> Table(const fs::path& roll) {
  const Halves halves = Measure(roll);
  if (!halves.model.ok() || !halves.others.ok()) {
    std::printf("%s: too little flat film to measure twice (%d scans)\n", roll.c_str(), halves.scans);
    return std::nullopt;
  }
  std::printf("%s: %d colour scans of %d px, %d and %d flat places; sigma at density 0.7: %.4f %.4f %.4f\n",
              roll.c_str(), halves.scans, halves.long_side_px, halves.model->patches, halves.others->patches,
              halves.model->sigma[0][halves.model->density.size() / 2],
              halves.model->sigma[1][halves.model->density.size() / 2],
              halves.model->sigma[2][halves.model->density.size() / 2]);
  std::printf("  %-38s %-30s %-8s %s\n", "", "strength by tone", "spectrum", "correlation of layers");
  bool sound = true;
  for (const std::uint64_t seed : {0x5eed1ull, 0xfade2ull}) {
    render::GrainMeter meter;
    const image::RgbF picture = Made(*halves.model, halves.long_side_px, seed);
    meter.Add(picture, kFilmLongSideMm);
    const auto made = meter.Model();
    if (!made.ok()) return false;
    const Distance own = Between(*made, *halves.model);
    Print("made, against its scans, by the meter", own);
    const Distance strength = Between(Strengths(picture, *halves.model), *halves.model);
    std::printf("  %-38s %5.1f %% rms, %5.1f %% at most\n", "    strength as it is", 100 * strength.sigma_rms,
                100 * strength.sigma_most);
    Print("made, against scans not seen", Between(*made, *halves.others));
    sound = sound && strength.tones > 0 && strength.sigma_most <= 0.1 && own.spectrum_db <= 1 &&
            own.correlation <= 0.1;
  }
  Print("scans against scans", Between(*halves.model, *halves.others));
  return sound;
}

}  // namespace
}  // namespace samelight::bench

int main(int count, char** words) {
  if (count < 2) {
    std::fprintf(stderr, "usage: grain_table DEMO...   (folders that `samelight demo` wrote)\n");
    return 2;
  }
  namespace fs = std::filesystem;
  int measured = 0, sound = 0;
  for (int i = 1; i < count; ++i) {
    std::vector<fs::path> rolls;
    std::error_code unreadable;
    for (const auto& roll : fs::directory_iterator(fs::path(words[i]) / "film", unreadable))
      rolls.push_back(roll.path());
    if (unreadable) std::fprintf(stderr, "%s/film: %s\n", words[i], unreadable.message().c_str());
    std::sort(rolls.begin(), rolls.end());
    for (const fs::path& roll : rolls)
      if (const std::optional<bool> told = samelight::bench::Table(roll)) {
        ++measured;
        sound += *told ? 1 : 0;
      }
  }
  std::printf("%d of %d rolls: made grain within 10 %%, 1 dB and 0.1 of its scans\n", sound, measured);
  return measured > 0 && sound == measured ? 0 : 1;
}
