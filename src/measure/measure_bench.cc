// How long measuring takes. Each benchmark looks at its result before it reports a time.
#include <benchmark/benchmark.h>

#include <cmath>

#include "image/resize.h"
#include "measure/cache.h"
#include "measure/measure.h"
#include "measure/testing.h"

namespace samelight::measure {
namespace {

image::RgbF Scene(int width, int height) { return PaintedScene(width, height, 7); }

record::Photo Frame() {
  record::Photo photo;
  photo.encoding = record::Encoding::kJpeg;
  return photo;
}

void Measure(benchmark::State& state, int width, int height, record::Role role) {
  const image::RgbF scene = Scene(width, height);
  record::Photo photo = Frame();
  photo.role = role;
  for (auto _ : state) {
    Result<MeasuredPicture> measured = MeasurePicture(scene, photo, nullptr);
    if (!measured || measured->measured.regions.size() < 3) state.SkipWithError("measured nothing");
    benchmark::DoNotOptimize(measured);
  }
}

void MeasureAtAnalysisSize(benchmark::State& state) { Measure(state, 1024, 683, record::Role::kFrame); }
void MeasureScanAtAnalysisSize(benchmark::State& state) { Measure(state, 1024, 683, record::Role::kScan); }
void Measure24Megapixels(benchmark::State& state) { Measure(state, 6000, 4000, record::Role::kFrame); }
BENCHMARK(MeasureAtAnalysisSize)->Unit(benchmark::kMillisecond);
BENCHMARK(MeasureScanAtAnalysisSize)->Unit(benchmark::kMillisecond);
BENCHMARK(Measure24Megapixels)->Unit(benchmark::kMillisecond);

void Shrink24Megapixels(benchmark::State& state) {
  const image::RgbF scene = Scene(6000, 4000);
  for (auto _ : state) {
    const image::RgbF small = image::ShrinkTo(scene, kAnalysisLongSide);
    if (small.width() != kAnalysisLongSide) state.SkipWithError("wrong size");
    benchmark::DoNotOptimize(small);
  }
}
BENCHMARK(Shrink24Megapixels)->Unit(benchmark::kMillisecond);

void Faces(benchmark::State& state, const char* model) {
  Result<std::unique_ptr<FaceFinder>> finder = FaceFinder::Open(std::string(SAMELIGHT_ASSETS_DIR) + model);
  const image::RgbF picture = ReadAsset("people/sample6.jpg");
  if (!finder || picture.empty()) {
    state.SkipWithError("no model or picture; run scripts/fetch-assets");
    return;
  }
  const image::RgbU8 srgb = NeutralRendering(picture, false);
  for (auto _ : state) {
    const std::vector<record::Face> faces = (*finder)->Find(srgb);
    if (faces.size() != 4) state.SkipWithError("did not find the four faces");
    benchmark::DoNotOptimize(faces);
  }
}
void FacesByNetwork(benchmark::State& state) { Faces(state, "/models/blazeface.onnx"); }
void FacesByGradients(benchmark::State& state) { Faces(state, "/models/none"); }
BENCHMARK(FacesByNetwork)->Unit(benchmark::kMillisecond);
BENCHMARK(FacesByGradients)->Unit(benchmark::kMillisecond);

void CacheRoundTrip(benchmark::State& state) {
  const image::RgbF scene = Scene(1024, 683);
  Result<MeasuredPicture> measured = MeasurePicture(scene, Frame(), nullptr);
  if (!measured) {
    state.SkipWithError("measured nothing");
    return;
  }
  const Cached cached{measured->measured, measured->analysis, {}};
  const std::filesystem::path file = std::filesystem::temp_directory_path() / "samelight_measure_bench.cache";
  for (auto _ : state) {
    if (!WriteCached(file, cached).ok()) state.SkipWithError("not written");
    Result<Cached> back = ReadCached(file);
    if (!back || back->analysis.pixels.width() != 1024) state.SkipWithError("not read back");
    benchmark::DoNotOptimize(back);
  }
  std::filesystem::remove(file);
}
BENCHMARK(CacheRoundTrip)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::measure
