// The solve of a whole wedding: 36 scans, 800 frames, 15 lights of which 12 have film.
#include <benchmark/benchmark.h>

#include <chrono>

#include "color/difference.h"
#include "look/evaluate.h"
#include "solve/left_over.h"
#include "solve/testing.h"

namespace samelight::solve {
namespace {

// Mean CIEDE2000 of the frames of one light in every seven surfaces: the answer is checked before its time is
// told.
double ErrorOf(const Truth& t, const Solution& s) {
  double sum = 0;
  int count = 0;
  for (std::size_t i = 0; i < s.frames.size(); i += 7) {
    const record::FrameSolution& f = s.frames[i];
    if (f.light.value >= 12) continue;
    const record::RawColour& raw = t.request.photos[i].raw;
    const Vec3 gain{raw.as_shot[0] / 2.0, 1, raw.as_shot[2] / 1.5};
    const Mat3& camera = raw.rec2020_from_camera;
    const look::Resolved resolved = look::Resolve(f.correction);
    for (std::size_t k = 0; k < 120; k += 11) {
      const Vec3& scene = t.scene.at(f.frame)[k];
      Vec3 seen = Mul(camera, Mul(Diagonal(gain), Mul(Inverse(camera), scene)));
      for (double& v : seen) v *= std::pow(10.0, t.exposure.at(f.frame));
      sum += color::Ciede2000(LabOfDisplay(look::Evaluate(resolved, seen)),
                              LabOfDisplay(InventedFilm(scene, t.printer.at(f.frame))));
      ++count;
    }
  }
  return sum / std::max(1, count);
}

void Wedding36x800(benchmark::State& state) {
  Options o;
  o.lights = 15;
  o.filmed = 12;
  o.frames_per_light = 53;
  o.scans_per_light = 3;
  Truth t = MakeTruth(o);
  // Scans and frames in one list: frames first, so that solutions and photographs have the same order.
  std::stable_sort(t.request.photos.begin(), t.request.photos.end(),
                   [](const record::Photo& a, const record::Photo& b) { return a.role > b.role; });
  double error = 0;
  for (auto _ : state) {
    SilentProgress silent;
    const auto begun = std::chrono::steady_clock::now();
    const Result<Solution> s = SolveSession(t.request, silent, {});
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    if (!s.ok()) {
      state.SkipWithError(s.error().Text().c_str());
      break;
    }
    error = ErrorOf(t, *s);
    if (!(error < 2.5)) state.SkipWithError("the answer is wrong");
    if (seconds > 60) state.SkipWithError("slower than the 60 s that a session has");
  }
  state.counters["scans"] = static_cast<double>(o.filmed) * o.scans_per_light;
  state.counters["frames"] = static_cast<double>(o.lights) * o.frames_per_light;
  state.counters["ciede2000"] = error;
}
BENCHMARK(Wedding36x800)->Unit(benchmark::kSecond)->Iterations(1)->UseRealTime();

}  // namespace
}  // namespace samelight::solve
