// Decoding and encoding against the libraries underneath, alone: same settings, one thread, outputs compared
// before a number is printed. Ours ends in linear BT.2020 floats, upright; bare libraries end in their own
// bytes.
#include <benchmark/benchmark.h>

#include <cmath>
#include <cstdlib>
#include <ctime>
#include <memory>

#include "codec/dng.h"
#include "codec/peers_testing.h"
#include "codec/read.h"
#include "codec/testing.h"
#include "codec/write.h"

// OpenMP API 4.5, 3.2.1.
extern "C" void omp_set_num_threads(int);

namespace samelight::codec {
namespace {

using peers::kHeight;
using peers::kWidth;

// Time that this thread was given, so that a busy machine does not spoil the figures.
double Now() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

const image::RgbU8& Scene() {
  static const image::RgbU8 kScene = peers::Scene(0);
  return kScene;
}

// Best of the iterations of both, in turns.
template <class Ours, class Bare>
void Compare(benchmark::State& state, Ours ours, Bare bare) {
  double best_ours = 1e9, best_bare = 1e9;
  for (auto _ : state) {
    double t = Now();
    ours();
    best_ours = std::min(best_ours, Now() - t);
    t = Now();
    bare();
    best_bare = std::min(best_bare, Now() - t);
  }
  state.counters["ms"] = 1000 * best_ours;
  state.counters["bare_ms"] = 1000 * best_bare;
  state.counters["ratio"] = best_ours / best_bare;
}

void ReadJpeg(benchmark::State& state) {
  const testing::Folder folder;
  WriteOptions options;
  options.quality = 92;
  options.subsampling = Subsampling::k420;
  const auto bytes = EncodePicture(Scene(), options);
  if (!bytes.ok()) return state.SkipWithError("no picture");
  testing::WriteBytes(folder / "a.jpg", *bytes);
  std::vector<std::uint8_t> rows;
  peers::DecodeJpeg(*bytes, rows);
  Spare spare;
  auto picture = ReadPicture(folder / "a.jpg", {});
  if (!picture.ok()) return state.SkipWithError("not read");
  const Mat3 m = color::RgbFromRgb(color::Space::kRec2020, color::Space::kSrgb);
  for (std::size_t i = 0; i < Scene().pixels(); i += 9973) {
    Vec3 v{};
    for (std::size_t c = 0; c < 3; ++c) v[c] = color::Decode(color::Space::kSrgb, rows[3 * i + c] / 255.0);
    v = Mul(m, v);
    for (std::size_t c = 0; c < 3; ++c)
      if (std::abs(picture->pixels.data()[3 * i + c] - v[c]) > 2e-4)
        return state.SkipWithError("wrong pixels");
  }
  spare.Take(std::move(*picture));
  Compare(
      state, [&] { spare.Take(ReadPicture(folder / "a.jpg", {}, &spare).value()); },
      [&] { peers::DecodeJpeg(*bytes, rows); });
  state.counters["bits_per_pixel"] = 8.0 * static_cast<double>(bytes->size()) / kWidth / kHeight;
}
BENCHMARK(ReadJpeg)->Unit(benchmark::kMillisecond);

void WriteJpeg(benchmark::State& state) {
  const auto ours = EncodePicture(Scene(), {});
  const auto bare = peers::EncodeJpeg(Scene());
  if (!ours.ok()) return state.SkipWithError("not encoded");
  std::vector<std::uint8_t> a, b;
  peers::DecodeJpeg(*ours, a);
  peers::DecodeJpeg(bare, b);
  if (a != b) return state.SkipWithError("wrong pixels");
  Compare(
      state, [&] { benchmark::DoNotOptimize(EncodePicture(Scene(), {})->size()); },
      [&] { benchmark::DoNotOptimize(peers::EncodeJpeg(Scene()).size()); });
}
BENCHMARK(WriteJpeg)->Unit(benchmark::kMillisecond);

void ReadRaw(benchmark::State& state) {
  omp_set_num_threads(1);
  const testing::Folder folder;
  const DngSpec spec = testing::CameraSpec();
  const auto mosaic = testing::Mosaic(spec, kWidth, kHeight, [](int x, int y) {
    const double u = x / 6000.0, v = y / 4000.0;
    const double level = 0.2 + 0.12 * std::sin(7 * u + 3 * std::sin(5 * v)) + 0.02 * std::sin(400 * u);
    return std::array<double, 3>{level, level * 0.9, level * 0.8};
  });
  if (!WriteDng(folder / "a.dng", mosaic, spec).ok()) return state.SkipWithError("no picture");
  const std::vector<std::uint8_t> bytes = testing::ReadBytes(folder / "a.dng");
  const auto bare = peers::DevelopRaw(bytes);
  auto picture = ReadPicture(folder / "a.dng", {});
  if (bare == nullptr || !picture.ok()) return state.SkipWithError("not read");
  // The same picture but for scale and primaries: the ratio of two places' luminances agrees.
  const auto theirs = [&](int x, int y) {
    const auto* v = bare->imgdata.image[static_cast<std::size_t>(y) * kWidth + static_cast<std::size_t>(x)];
    return static_cast<double>(v[1]);
  };
  for (int y = 200; y < kHeight; y += 397) {
    const double a = picture->pixels.at(1000, y)[1] / picture->pixels.at(4000, y)[1],
                 b = theirs(1000, y) / theirs(4000, y);
    if (!(std::abs(a / b - 1) < 0.03)) return state.SkipWithError("wrong pixels");
  }
  Spare spare;
  spare.Take(std::move(*picture));
  Compare(
      state, [&] { spare.Take(ReadPicture(folder / "a.dng", {}, &spare).value()); },
      [&] { benchmark::DoNotOptimize(peers::DevelopRaw(bytes).get()); });
}
BENCHMARK(ReadRaw)->Iterations(2)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::codec
