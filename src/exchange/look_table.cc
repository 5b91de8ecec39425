#include "exchange/look_table.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/task_pool.h"
#include "color/difference.h"
#include "color/lab.h"
#include "color/space.h"
#include "look/evaluate.h"
#include "look/numbers.h"

namespace samelight::exchange {
namespace {

Vec3 LabOfEncoded(const Vec3& srgb) {
  static const Mat3 to = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  Vec3 linear;
  for (int c = 0; c < 3; ++c) linear[c] = color::Decode(color::Space::kSrgb, std::clamp(srgb[c], 0.0, 1.0));
  return color::LabFromRec2020(Mul(to, linear));
}

}  // namespace

Vec3 LookInLight::Display(const Vec3& scene) const {
  Vec3 out;
  look::FilmFromScene(look::Parameters(look), offset_log10.data(), 1.0, scene.data(), out.data());
  return out;
}

LookInLight InUsualLight(const record::LearnedLook& look, double exposure_ev) {
  // The rule of solve::LightRule for a light without a cast, of the level that frames usually have.
  const std::vector<double>& r = look.rule.mean;
  const double level = r[0] - r[1] * record::kUsualLevel + exposure_ev * look::kLog10Of2;
  const double balance = (r[3] + r[4] + r[5]) / 3;
  LookInLight in;
  in.look = look::RecordFrom(look.look.mean.data());
  for (int c = 0; c < 3; ++c) in.offset_log10[c] = level + r[3 + c] - balance;
  return in;
}

double Shaper::low() const { return std::log2(offset); }
double Shaper::high() const { return std::log2(most + offset); }
double Shaper::Shaped(double x) const {
  return std::clamp((std::log2(std::max(x, 0.0) + offset) - low()) / (high() - low()), 0.0, 1.0);
}
double Shaper::Unshaped(double shaped) const { return std::exp2(low() + shaped * (high() - low())) - offset; }

Vec3 EncodedSrgb(const Vec3& rec2020_display) {
  static const Mat3 to = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  Vec3 out = Mul(to, rec2020_display);
  for (double& v : out) v = color::Encode(color::Space::kSrgb, std::clamp(v, 0.0, 1.0));
  return out;
}

LookTable MakeTable(const LookInLight& in, const Shaper& shaper, int nodes, bool matrix_apart,
                    Progress& progress, const Cancel& cancel) {
  LookTable table;
  table.shaper = shaper;
  table.nodes = nodes;
  LookInLight rest = in;
  if (matrix_apart) {
    table.matrix = in.look.m1;
    rest.look.m1 = kIdentity3;
  }
  std::vector<double> at;
  for (int i = 0; i < nodes; ++i) at.push_back(shaper.Unshaped(static_cast<double>(i) / (nodes - 1)));
  const std::size_t plane = static_cast<std::size_t>(nodes) * nodes * 3;
  table.rgb.resize(plane * nodes);
  const look::LookOf<double> parameters = look::Parameters(rest.look);
  ParallelFor(at.size(), cancel, [&](std::size_t r) {
    float* entry = table.rgb.data() + plane * r;
    for (const double g : at)
      for (const double b : at) {
        const Vec3 scene{at[r], g, b};
        Vec3 out;
        look::FilmFromScene(parameters, rest.offset_log10.data(), 1.0, scene.data(), out.data());
        for (const double v : EncodedSrgb(out)) *entry++ = static_cast<float>(v);
      }
    progress.Advance(1);
  });
  return table;
}

Vec3 LookTable::At(const Vec3& scene) const {
  const Vec3 x = Mul(matrix, scene);
  std::array<int, 3> cell;
  Vec3 part;
  for (int c = 0; c < 3; ++c) {
    const double t = shaper.Shaped(x[c]) * (nodes - 1);
    cell[c] = std::min(static_cast<int>(t), nodes - 2);
    part[c] = t - cell[c];
  }
  // From the corner nearest to black to the one nearest to white, along the axes in the order of their parts.
  std::array<int, 3> order = {0, 1, 2};
  std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return part[a] > part[b]; });
  Vec3 out{0, 0, 0};
  double before = 1;
  for (int step = 0; step <= 3; ++step) {
    const double next = step < 3 ? part[order[step]] : 0;
    const std::size_t i = ((static_cast<std::size_t>(cell[0]) * nodes + cell[1]) * nodes + cell[2]) * 3;
    for (int c = 0; c < 3; ++c) out[c] += (before - next) * rgb[i + c];
    before = next;
    if (step < 3) ++cell[order[step]];
  }
  return out;
}

std::vector<Vec3> ProbeColours(double most) {
  std::vector<Vec3> probes;
  for (double ev = -7; ev <= 5; ev += 0.37)
    for (const double saturation : {0.0, 0.2, 0.45, 0.7})
      for (int hue = 0; hue < (saturation > 0 ? 24 : 1); ++hue) {
        const double level = look::kMidGrey * std::exp2(ev);
        Vec3 x;
        for (int c = 0; c < 3; ++c)
          x[c] = level * (1 + saturation * std::cos(6.283185307179586 * (hue / 24.0 - c / 3.0)));
        if (std::max({x[0], x[1], x[2]}) <= most) probes.push_back(x);
      }
  return probes;
}

TableError ErrorOf(const LookInLight& look, double most, const std::vector<Vec3>& shown) {
  const std::vector<Vec3> probes = ProbeColours(most);
  TableError error;
  for (std::size_t i = 0; i < probes.size(); ++i) {
    const double e =
        color::Ciede2000(LabOfEncoded(shown[i]), LabOfEncoded(EncodedSrgb(look.Display(probes[i]))));
    error.mean += e / static_cast<double>(probes.size());
    error.most = std::max(error.most, e);
  }
  return error;
}

}  // namespace samelight::exchange
