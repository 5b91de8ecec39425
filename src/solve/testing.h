// Invented sessions with a known film, for tests and benchmarks of the solve.
#pragma once

#include <algorithm>
#include <cmath>
#include <random>
#include <unordered_map>
#include <vector>

#include "base/matrix.h"
#include "solve/solve.h"

namespace samelight::solve {

// Invented film: log exposure, inter-layer mixing on densities, tanh curve, display-linear BT.2020.
inline Vec3 InventedFilm(const Vec3& scene, const Vec3& printer_log10) {
  static constexpr double kMix[3][3] = {{1.10, -0.07, -0.03}, {-0.05, 1.12, -0.07}, {-0.02, -0.10, 1.12}};
  Vec3 density;
  for (int c = 0; c < 3; ++c)
    density[c] =
        std::tanh(0.55 * (std::log10(std::max(scene[c], 1e-5) / 0.18) + printer_log10[c] + 0.04 * (c - 1)));
  Vec3 out;
  for (int c = 0; c < 3; ++c) {
    double d = 0;
    for (int k = 0; k < 3; ++k) d += kMix[c][k] * density[k];
    out[c] = std::pow(10.0, -0.95 + 1.9 * std::tanh(1.25 * d) * (d > 0 ? 0.48 : 0.72));
  }
  return out;
}

struct Truth {
  Request request;
  std::unordered_map<PhotoId, Vec3> printer;     // of the frame's light, by frame
  std::unordered_map<PhotoId, double> exposure;  // of the frame, log10
  std::unordered_map<PhotoId, std::vector<Vec3>> scene;
};

struct Options {
  unsigned seed = 1;
  int lights = 4, filmed = 3, frames_per_light = 8, scans_per_light = 3;
  double wrong_cells = 0;
  bool one_wrong_pair = false;
  double nudge = 0.02;
  Vec3 odd_scan{0, 0, 0};        // log10: the first scan of the first light is printed off by this
  double odd_confidence = 0.95;  // of its pair
  Vec3 odd_light{0, 0, 0};       // log10: the last filmed light is printed off by this
  double lab = 0;                // log10: the lab prints everything so much lighter
  double drift = 0;  // log10 of red over blue, from the middle of a light to its end; the film takes it back
  bool like_regions = false;  // the last filmed light: nothing matched, the same kinds of things seen
};

// What the cells show, as regions of the scan and of the frame: three kinds of ten cells each.
inline void AddRegions(const record::Correspondence& c, Request& request) {
  using record::RegionKind;
  std::size_t k = 0;
  for (const RegionKind kind : {RegionKind::kSkin, RegionKind::kFoliage, RegionKind::kNeutral}) {
    record::RegionStat scan, frame;
    scan.kind = frame.kind = kind;
    scan.area = frame.area = 0.1;
    for (std::size_t q = 0; q < 5; ++q, ++k)
      for (int i = 0; i < 3; ++i) {
        scan.quantiles[q][i] = c.cells[k].a_rgb[i];
        frame.quantiles[q][i] = c.cells[k].b_rgb[i];
      }
    request.measured[c.a].regions.push_back(scan);
    request.measured[c.b].regions.push_back(frame);
  }
}

// Frames of one body, as-shot whites that err by 4 %, exposures that err by a stop, cells of 120 random
// colours per picture.
inline Truth MakeTruth(const Options& o) {
  std::mt19937 random(o.seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> u(0, 1);
  Truth t;
  const Mat3 camera{{{1.25, -0.20, -0.05}, {-0.12, 1.22, -0.10}, {0.02, -0.22, 1.20}}};
  std::int64_t next = 0;
  t.request.rolls.resize(1);
  t.request.rolls[0].id = {0};
  t.request.rolls[0].name = "roll A";
  for (int l = 0; l < o.lights; ++l) {
    record::Light light;
    light.id = {l};
    Vec3 printer{0.05 * normal(random), 0.03 * normal(random), 0.05 * normal(random)};
    for (double& v : printer) v += o.lab;
    if (l == o.filmed - 1)
      for (int c = 0; c < 3; ++c) printer[c] += o.odd_light[c];
    std::vector<Vec3> scene;  // the surfaces of this light
    for (int i = 0; i < 120; ++i) {
      const double level = 0.02 + 0.75 * std::pow(u(random), 1.6), s = 0.35 * u(random),
                   h = 6.2832 * u(random);
      scene.push_back({level * (1 + s * std::cos(h)), level * (1 + s * std::cos(h - 2.1)),
                       level * (1 + s * std::cos(h + 2.1))});
    }
    std::vector<PhotoId> frames;
    for (int i = 0; i < o.frames_per_light; ++i) {
      record::Photo p;
      p.id = {next++};
      p.role = record::Role::kFrame;
      p.encoding = record::Encoding::kRaw;
      p.raw.rec2020_from_camera = p.raw.rec2020_from_daylight = camera;
      p.raw.rec2020_unadapted = Mul(camera, Diagonal(Vec3{2, 1, 1.5}));
      const double place = 2.0 * i / (o.frames_per_light - 1) - 1;
      p.raw.as_shot = {2.0 * std::exp(0.04 * normal(random)), 1, 1.5 * std::exp(0.04 * normal(random))};
      p.raw.as_shot[0] *= std::pow(10.0, 3 * o.drift * place);
      p.raw.as_shot[2] /= std::pow(10.0, 3 * o.drift * place);
      const double e = 0.15 * normal(random);
      p.capture.exposure_time_s = 0.01 * std::pow(10.0, e + 0.05 * normal(random));
      p.capture.aperture = 4;
      p.capture.iso = 400;
      t.exposure[p.id] = e;
      t.printer[p.id] = {printer[0] + o.drift * place, printer[1], printer[2] - o.drift * place};
      t.scene[p.id] = scene;
      record::Measured m;
      m.light.log2_level = std::log2(0.1) + e / 0.30103;
      t.request.measured[p.id] = m;
      frames.push_back(p.id);
      t.request.photos.push_back(p);
    }
    light.frames = frames;
    const auto seen = [&](PhotoId id, const Vec3& x,
                          float out[3]) {  // as decoded at the frame's own white and exposure
      const record::Photo& p = *std::find_if(t.request.photos.begin(), t.request.photos.end(),
                                             [&](const record::Photo& q) { return q.id == id; });
      const Vec3 gain{p.raw.as_shot[0] / 2.0, 1, p.raw.as_shot[2] / 1.5};
      const Vec3 y = Mul(camera, Mul(Diagonal(gain), Mul(Inverse(camera), x)));
      for (int c = 0; c < 3; ++c)
        out[c] = static_cast<float>(y[c] * std::pow(10.0, t.exposure[id]) * std::exp(0.02 * normal(random)));
    };
    for (std::size_t i = 0; i + 1 < frames.size(); ++i) {
      record::Correspondence c;
      c.a = frames[i];
      c.b = frames[i + 1];
      for (int k = 0; k < 120; k += 2) {
        record::Cell cell;
        seen(c.a, scene[k], cell.a_rgb);
        seen(c.b, scene[k], cell.b_rgb);
        c.cells.push_back(cell);
      }
      t.request.frame_to_frame.push_back(c);
    }
    for (int s = 0; l < o.filmed && s < o.scans_per_light; ++s) {
      record::Photo p;
      p.id = {1000 + 10 * l + s};
      p.role = record::Role::kScan;
      t.request.photos.push_back(p);
      t.request.rolls[0].scans.push_back(p.id);
      const PhotoId frame = frames[static_cast<std::size_t>(s * 2)];
      Vec3 nudged = t.printer[frame];
      const double level = o.nudge * normal(random);
      for (double& v : nudged) v += level + 0.5 * o.nudge * normal(random);
      const bool odd = l == 0 && s == 0;
      for (int ch = 0; odd && ch < 3; ++ch) nudged[ch] += o.odd_scan[ch];
      t.request.pairs.push_back(
          {p.id, frame, record::PairKind::kMoment, odd ? o.odd_confidence : 0.95, false, {}});
      record::Correspondence c;
      c.a = p.id;
      c.b = frame;
      const bool wrong_pair = o.one_wrong_pair && l == 0 && s == 0;
      for (int k = 0; k < 120; ++k) {
        record::Cell cell;
        const bool wrong = wrong_pair || u(random) < o.wrong_cells;
        const Vec3 y = InventedFilm(
            scene[wrong ? static_cast<std::size_t>(u(random) * 119) : static_cast<std::size_t>(k)], nudged);
        for (int ch = 0; ch < 3; ++ch) cell.a_rgb[ch] = static_cast<float>(y[ch]);
        seen(frame, scene[k], cell.b_rgb);
        c.cells.push_back(cell);
      }
      if (!o.like_regions || l + 1 < o.filmed) {
        t.request.scan_to_frame.push_back(c);
        continue;
      }
      t.request.pairs.back().kind = record::PairKind::kLight;
      AddRegions(c, t.request);
    }
    t.request.lights.push_back(light);
  }
  return t;
}

}  // namespace samelight::solve
