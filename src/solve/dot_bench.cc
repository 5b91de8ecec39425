// The drag of a dot: a frame solved again for where a region was pulled to. 15 ms are allowed.
#include <benchmark/benchmark.h>

#include <chrono>
#include <cmath>

#include "look/evaluate.h"
#include "solve/dot.h"

namespace samelight::solve {
namespace {

// A region of as many cells as a frame's has at most, of one colour at several levels (invented).
RegionSamples Region(record::RegionKind kind, const Vec3& scene, const look::Resolved& film) {
  RegionSamples region{kind, -1, {}, true};
  for (int i = 0; i < 60; ++i) {
    const double level = std::exp2(0.6 * ((i * 37) % 60 / 59.0 - 0.5));
    region.frame.push_back({scene[0] * level, scene[1] * level, scene[2] * level});
  }
  region.lab_scan = LabUnder(region, film);
  return region;
}

void DotDrag(benchmark::State& state) {
  record::Correction film;
  film.look = look::NeutralLook();
  film.look.m2 = {{{1.06, -0.04, -0.02}, {-0.02, 1.05, -0.03}, {-0.02, -0.05, 1.07}}};
  for (int i = 0; i < 3; ++i) film.look.layer[i].gamma = 1.15 + 0.04 * i;
  film.offset_log10 = {0.04, 0, -0.03};
  const look::Resolved resolved = look::Resolve(film);
  using record::RegionKind;
  const std::vector<RegionSamples> regions = {Region(RegionKind::kSkin, {0.30, 0.22, 0.16}, resolved),
                                              Region(RegionKind::kFoliage, {0.075, 0.11, 0.045}, resolved),
                                              Region(RegionKind::kNeutral, {0.18, 0.18, 0.18}, resolved),
                                              Region(RegionKind::kSky, {0.35, 0.45, 0.62}, resolved),
                                              Region(RegionKind::kShadow, {0.014, 0.010, 0.013}, resolved)};
  const Vec3 was = LabUnder(regions[0], resolved);
  double total_ms = 0;
  int pull = 0;
  for (auto _ : state) {
    const auto begun = std::chrono::steady_clock::now();
    // A little further each time, as a hand does.
    const DotMove move =
        MoveDot(film, regions, 0, was[1] + 0.05 * (pull % 60), was[2] + 2 - 0.05 * (pull % 40), {});
    total_ms += std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begun).count();
    ++pull;
    if (!(move.miss < 1)) return state.SkipWithError("the dot was not reached");
  }
  const double mean_ms = total_ms / std::max(1, pull);
  state.counters["allowed_ms"] = 15;
  if (mean_ms > 15) state.SkipWithError("slower than the 15 ms that a drag has");
}
BENCHMARK(DotDrag)->Unit(benchmark::kMillisecond)->MinTime(1.0)->UseRealTime();

}  // namespace
}  // namespace samelight::solve
