#include "bench/references.h"

#include <algorithm>
#include <cmath>

#include "bench/colour_table.h"

namespace samelight::bench {
namespace {

constexpr double kSmooth = 0.01;
constexpr int kRounds = 5;

double SquaredError(const ColourTable& table, const FramePicture& frame, const image::RgbF& linear,
                    double gain) {
  double sum = 0;
  for (std::size_t i = 0; i < linear.pixels(); i += 23) {
    const Vec3 lab = table(linear.data().data() + 3 * i, gain);
    for (int c = 0; c < 3; ++c) {
      const double d = lab[c] - frame.truth.data()[3 * i + c];
      sum += d * d;
    }
  }
  return sum;
}

// Pixels of a raw frame as if it had been taken at the white `as_shot`.
image::RgbF AtWhite(const FramePicture& frame, const Vec3& as_shot) {
  Vec3 gain;
  for (int c = 0; c < 3; ++c) gain[c] = as_shot[c] / frame.as_shot[c];
  const Mat3 m = Mul(frame.rec2020_from_camera, Mul(Diagonal(gain), Inverse(frame.rec2020_from_camera)));
  image::RgbF out(frame.linear.width(), frame.linear.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const float* p = frame.linear.data().data() + 3 * i;
    const Vec3 v = Mul(m, Vec3{p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(v[c]);
  }
  return out;
}

double MedianLightness(const LabF& lab) {
  std::vector<float> l(lab.pixels());
  for (std::size_t i = 0; i < l.size(); ++i) l[i] = lab.data()[3 * i];
  std::nth_element(l.begin(), l.begin() + l.size() / 2, l.end());
  return l[l.size() / 2];
}

}  // namespace

LabF TablePerFrame(const FramePicture& frame) {
  const double gain = frame.scene_referred ? 0.18 / std::max(MedianLuminance(frame.linear), 1e-6) : 1;
  ColourTable table;
  table.Add(frame.linear, gain, frame.truth);
  table.Fit(kSmooth);
  return table.Apply(frame.linear, gain);
}

std::vector<LabF> TablePerLight(const std::vector<const FramePicture*>& frames) {
  const std::size_t count = frames.size();
  Vec3 white{0, 0, 0};
  for (const FramePicture* f : frames)
    for (int c = 0; c < 3; ++c) white[c] += std::log(f->as_shot[c]) / count;
  for (double& v : white) v = std::exp(v);
  std::vector<image::RgbF> linear;
  std::vector<double> exposure_log2;
  for (const FramePicture* f : frames) {
    linear.push_back(f->scene_referred ? AtWhite(*f, white) : f->linear);
    // To begin with, as bright as the film has it.
    const double level = std::pow((MedianLightness(f->truth) + 16) / 116, 3);
    exposure_log2.push_back(
        std::log2(std::max(level, 1e-4) / std::max(MedianLuminance(linear.back()), 1e-6)));
  }
  ColourTable table;
  for (int round = 0; round < kRounds; ++round) {
    const bool last = round == kRounds - 1;
    for (std::size_t i = 0; i < count; ++i)
      table.Add(linear[i], std::exp2(exposure_log2[i]), frames[i]->truth, last ? 1 : 5);
    table.Fit(kSmooth);
    if (last || count == 1) continue;
    for (std::size_t i = 0; i < count; ++i) {
      // Golden section over +-0.5 EV, narrower each round.
      constexpr double kGolden = 0.6180339887498949;
      const double reach = 0.5 / (1 + round);
      double a = exposure_log2[i] - reach, b = exposure_log2[i] + reach;
      const auto cost = [&](double e) { return SquaredError(table, *frames[i], linear[i], std::exp2(e)); };
      double c = b - kGolden * (b - a), d = a + kGolden * (b - a);
      double at_c = cost(c), at_d = cost(d);
      while (b - a > 0.01) {
        if (at_c < at_d) {
          b = d;
          d = c;
          at_d = at_c;
          c = b - kGolden * (b - a);
          at_c = cost(c);
        } else {
          a = c;
          c = d;
          at_c = at_d;
          d = a + kGolden * (b - a);
          at_d = cost(d);
        }
      }
      exposure_log2[i] = 0.5 * (a + b);
    }
  }
  std::vector<LabF> out;
  for (std::size_t i = 0; i < count; ++i) out.push_back(table.Apply(linear[i], std::exp2(exposure_log2[i])));
  return out;
}

}  // namespace samelight::bench
