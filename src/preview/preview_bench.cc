// How fast pictures come to the screen. Each figure is checked against the exact evaluation first.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "base/task_pool.h"
#include "color/difference.h"
#include "color/lab.h"
#include "look/evaluate.h"
#include "preview/corrected.h"
#include "preview/sample.h"
#include "preview/testing.h"

namespace samelight::preview {
namespace {

constexpr int kWidth = 1500, kHeight = 1000;

// Wall-clock milliseconds: what a person waits for.
double Milliseconds() {
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

// Mean CIEDE2000 between what is shown and the exact evaluation, over every 97th pixel.
double MeanError(const Sampled& sampled, const record::Correction& correction, const Shown& shown) {
  const look::Resolved resolved = look::Resolve(correction);
  const Mat3 back = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  double sum = 0;
  int count = 0;
  for (std::size_t i = 0; i < shown.argb.size(); i += 97, ++count) {
    const float* p = sampled.linear.data().data() + 3 * i;
    const Vec3 exact = render::Exact(resolved, color::Space::kSrgb, {p[0], p[1], p[2]});
    Vec3 a, b;
    for (int c = 0; c < 3; ++c) {
      a[c] = color::Decode(color::Space::kSrgb, exact[c]);
      b[c] = color::Decode(color::Space::kSrgb, (shown.argb[i] >> (16 - 8 * c) & 255) / 255.0);
    }
    sum += color::Ciede2000(color::LabFromRec2020(Mul(back, a)), color::LabFromRec2020(Mul(back, b)));
  }
  return sum / count;
}

// One handle moves a little from call to call, as under a drag.
void HandleChange(benchmark::State& state, bool draft, bool skin_apart, int monitor_kind) {
  Sampled sampled;
  const image::RgbF scene = SomeScene(2048, 1365);
  Sample(scene, 6000, FitView(6000, 4000, kWidth, kHeight), kWidth, kHeight, sampled);
  record::Correction correction = SomeCorrection();
  if (skin_apart) correction.follow_skin = 0.6;
  Monitor monitor;
  if (monitor_kind == 1) {  // a table of its own, here of the same colours
    monitor.space = color::Space::kRec2020;
    monitor.nodes = 33;
    for (int r = 0; r < 33; ++r)
      for (int g = 0; g < 33; ++g)
        for (int b = 0; b < 33; ++b)
          for (const int v : {r, g, b}) monitor.table.push_back(static_cast<float>(v) / 32);
  }
  Corrected corrected;
  Shown shown;
  corrected.Show(sampled, correction, monitor, draft, false, shown);
  if (monitor_kind == 0) {
    const double error = MeanError(sampled, correction, shown);
    if (!(error < (draft ? 0.4 : 0.3))) {
      state.SkipWithError("what is shown is not the correction");
      return;
    }
    state.counters["mean_dE"] = error;
  }
  std::vector<double> ms;
  for (auto _ : state) {
    correction.touch.exposure_ev += 0.01;
    const double begun = Milliseconds();
    corrected.Show(sampled, correction, monitor, draft, false, shown);
    ms.push_back(Milliseconds() - begun);
    state.SetIterationTime(ms.back() / 1000);
  }
  std::sort(ms.begin(), ms.end());
  state.counters["median_ms"] = ms[ms.size() / 2];
  state.counters["p95_ms"] = ms[ms.size() * 95 / 100];
  state.counters["least_ms"] = ms.front();
}
BENCHMARK_CAPTURE(HandleChange, draft, true, false, 0)
    ->UseManualTime()
    ->Iterations(40)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(HandleChange, draft_skin_apart, true, true, 0)
    ->UseManualTime()
    ->Iterations(40)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(HandleChange, draft_monitor_profile, true, false, 1)
    ->UseManualTime()
    ->Iterations(40)
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(HandleChange, as_delivered, false, false, 0)
    ->UseManualTime()
    ->Iterations(10)
    ->Unit(benchmark::kMillisecond);

void ViewChange(benchmark::State& state) {
  const image::RgbF scene = SomeScene(2048, 1365);
  const View fit = FitView(6000, 4000, kWidth, kHeight);
  Sampled sampled;
  double zoom = 1;
  for (auto _ : state) {
    zoom *= 1.02;
    View view = fit;
    view.zoom *= zoom;
    Sample(scene, 6000, view, kWidth, kHeight, sampled);
    benchmark::DoNotOptimize(sampled.linear.data().data());
  }
}
BENCHMARK(ViewChange)->UseRealTime()->Iterations(20)->Unit(benchmark::kMillisecond);

void OriginalShown(benchmark::State& state) {
  const image::RgbF scene = SomeScene(2048, 1365);
  Sampled sampled;
  Sample(scene, 6000, FitView(6000, 4000, kWidth, kHeight), kWidth, kHeight, sampled);
  Shown shown;
  for (auto _ : state) ShowDisplay(sampled, {}, false, state.range(0) != 0, shown);
}
BENCHMARK(OriginalShown)->Arg(0)->Arg(1)->UseRealTime()->Iterations(20)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::preview
