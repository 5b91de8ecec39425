#include "render/acutance_meter.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace samelight::render {
namespace {

constexpr int kSide = 32, kBins = AcutanceMeter::kBins;

// Window times cosine and sine of each frequency.
struct Waves {
  float cosine[kBins][kSide], sine[kBins][kSide];
  Waves() {
    for (int k = 0; k < kBins; ++k)
      for (int i = 0; i < kSide; ++i) {
        const double window = 0.5 - 0.5 * std::cos(2 * std::numbers::pi * (i + 0.5) / kSide);
        const double turn = 2 * std::numbers::pi * k * i / kSide;
        cosine[k][i] = static_cast<float>(window * std::cos(turn));
        sine[k][i] = static_cast<float>(window * std::sin(turn));
      }
  }
};

// Adds the power of kSide values, `step` apart, their mean taken off.
void AddLine(const float* v, int step, const Waves& waves, std::array<float, kBins>& power) {
  float line[kSide], mean = 0;
  for (int i = 0; i < kSide; ++i) mean += v[i * step] / kSide;
  for (int i = 0; i < kSide; ++i) line[i] = v[i * step] - mean;
  for (int k = 1; k < kBins; ++k) {
    float c = 0, s = 0;
    for (int i = 0; i < kSide; ++i) {
      c += line[i] * waves.cosine[k][i];
      s += line[i] * waves.sine[k][i];
    }
    power[k] += c * c + s * s;
  }
}

float Coarse(const std::array<float, kBins>& power) { return power[2] + power[3] + power[4]; }

// Response of the blur that acutance works against (sharpen.h) along one axis, at k / 32 cycles a pixel.
double Blur(int k) {
  constexpr double kTaps[4] = {0.39905028, 0.24203623, 0.05400558, 0.00443305};
  double sum = kTaps[0];
  for (int i = 1; i < 4; ++i) sum += 2 * kTaps[i] * std::cos(2 * std::numbers::pi * k * i / kSide);
  return sum;
}

}  // namespace

void AcutanceMeter::Add(const image::RgbU8& encoded) {
  static const Waves waves;
  constexpr int kMostPatches = 1500;
  const int across = encoded.width() / kSide, down = encoded.height() / kSide;
  if (across < 1 || down < 1) return;
  const int skip = std::max(1, across * down / kMostPatches);
  float luma[kSide * kSide];
  for (int p = 0; p < across * down; p += skip) {
    const int x0 = p % across * kSide, y0 = p / across * kSide;
    bool clipped = false;
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) {
        const std::uint8_t* v = encoded.at(x0 + x, y0 + y);
        luma[kSide * y + x] = 0.2126f * v[0] + 0.7152f * v[1] + 0.0722f * v[2];
        clipped = clipped || luma[kSide * y + x] > 250 || luma[kSide * y + x] < 4;
      }
    if (clipped) continue;
    std::array<float, kBins> power{};
    for (int i = 0; i < kSide; ++i) {
      AddLine(luma + kSide * i, 1, waves, power);
      AddLine(luma + i, kSide, waves, power);
    }
    patches_.push_back(power);
  }
}

std::optional<std::array<double, kBins>> AcutanceMeter::Detail() const {
  if (patches_.size() < 40) return std::nullopt;
  std::vector<const std::array<float, kBins>*> order;
  for (const auto& patch : patches_) order.push_back(&patch);
  std::sort(order.begin(), order.end(), [](const auto* a, const auto* b) { return Coarse(*a) < Coarse(*b); });
  const std::size_t quiet = order.size() / 10, busy = order.size() / 4;
  std::array<double, kBins> noise{}, detail{};
  for (int k = 1; k < kBins; ++k)
    for (std::size_t i = 0; i < quiet; ++i) noise[k] += (*order[i])[k] / static_cast<double>(quiet);
  const double coarse_noise = noise[2] + noise[3] + noise[4];
  // Each patch against its own coarse detail, so that a few strong edges do not decide alone.
  double sum = 0;
  for (std::size_t i = order.size() - busy; i < order.size(); ++i) {
    const double coarse = Coarse(*order[i]) - coarse_noise;
    if (!(coarse > 4 * coarse_noise) || !(coarse > 0)) continue;
    ++sum;
    for (int k = 1; k < kBins; ++k) detail[k] += ((*order[i])[k] - noise[k]) / coarse;
  }
  if (sum < 10) return std::nullopt;
  for (double& v : detail) v = std::max(0.0, v / sum);
  return detail;
}

double AcutanceGain(const AcutanceMeter& scans, const AcutanceMeter& frames) {
  const auto film = scans.Detail(), digital = frames.Detail();
  if (!film || !digital) return 0;
  // What a gain would leave between the two, in log amplitude; the coarse detail that both are told by is
  // moved by it too.
  const auto left = [&](double gain) {
    const auto amplitude = [&](int k) { return 1 + gain * (1 - Blur(k)); };
    double coarse = 0, before = 0;
    for (int k = 2; k <= 4; ++k) {
      coarse += (*digital)[k] * amplitude(k) * amplitude(k);
      before += (*digital)[k];
    }
    double squares = 0;
    for (int k = 5; k <= 12; ++k) {
      if (!((*film)[k] > 0 && (*digital)[k] > 0)) continue;
      const double off = 0.5 * std::log((*film)[k] / (*digital)[k]) - std::log(amplitude(k)) +
                         0.5 * std::log(coarse / before);
      squares += off * off;
    }
    return squares;
  };
  double best = 0, least = left(0);
  for (double gain = -0.8; gain <= 1.5001; gain += 0.01)
    if (const double v = left(gain); v < least) {
      least = v;
      best = gain;
    }
  return best;
}

}  // namespace samelight::render
