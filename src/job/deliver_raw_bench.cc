// A delivery of raw frames against bare LibRaw with the same interpolation of colours, the chain and bare
// encoding; otherwise like deliver_bench.cc. SAMELIGHT_BENCH_FRAMES sets the number of frames (usually 8 of
// 24 megapixels).
#include <benchmark/benchmark.h>

#include "codec/dng.h"
#include "job/delivery_bench_testing.h"

// Bare LibRaw keeps to one thread for each picture too (OpenMP API 4.5, 3.2.1).
extern "C" void omp_set_num_threads(int);

namespace samelight::job {
namespace {

using namespace bench;

std::vector<std::uint8_t> CameraRaw(const fs::path& folder, unsigned seed) {
  codec::DngSpec spec;
  spec.capture.make = "Invented";
  spec.capture.body = "Body";
  image::Raster<std::uint16_t, 1> mosaic(kWidth, kHeight);
  std::uint32_t dice = seed;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      dice = dice * 1664525u + 1013904223u;
      const double u = x / 6000.0, v = y / 4000.0;
      const double level = 4000 + 2500 * std::sin(7 * u + 3 * std::sin(5 * v) + seed) +
                           500 * std::sin(400 * u + 300 * v) + static_cast<double>(dice >> 24);
      *mosaic.at(x, y) = static_cast<std::uint16_t>(level * (y % 2 == x % 2 ? 1.0 : 0.8) + 512);
    }
  const fs::path file = folder / "raw.dng";
  if (!codec::WriteDng(file, mosaic, spec).ok()) return {};
  auto bytes = ReadFile(file, 1u << 30);
  return bytes.ok() ? std::move(bytes).value() : std::vector<std::uint8_t>();
}

bool Developed(const std::vector<std::uint8_t>& bytes) {
  omp_set_num_threads(1);
  const auto raw = codec::peers::DevelopRaw(bytes);
  return raw != nullptr && raw->imgdata.image != nullptr && raw->imgdata.sizes.iwidth == kWidth;
}

void DeliverRaw(benchmark::State& state) {
  const int frames = Frames(8);
  std::string pattern = (fs::temp_directory_path() / "samelight-raw-XXXXXX").string();
  const fs::path folder = ::mkdtemp(pattern.data());
  std::vector<std::vector<std::uint8_t>> kinds;
  for (unsigned i = 0; i < 2; ++i) kinds.push_back(CameraRaw(folder, i + 1));
  const record::Correction correction;
  const Delivery delivery(frames, ".dng", kinds, correction, record::Encoding::kRaw);
  bool sound = delivery.sound();
  if (!sound) return state.SkipWithError("the session could not be made");
  for (auto _ : state) {
    const auto n = static_cast<std::size_t>(frames);
    std::atomic<int> bad = 0;
    const Cost decode = Timed(
        [&] { ParallelFor(n, Cancel(), [&](std::size_t i) { bad += Developed(kinds[i % 2]) ? 0 : 1; }); });
    std::vector<image::RgbF> linear(2);
    for (int i = 0; i < 2; ++i)
      linear[static_cast<std::size_t>(i)] =
          codec::ReadPicture(delivery.folder() / ("digital/P10" + std::to_string(i) + ".dng"))->pixels;
    std::vector<image::RgbU8> pixels(2);
    for (std::size_t i = 0; i < 2; ++i)
      sound = sound && render::Render(linear[i], correction, {}, pixels[i]).ok();
    const Cost chain = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        static thread_local image::RgbU8 out;
        static_cast<void>(render::Render(linear[i % 2], correction, {}, out).ok());
      });
    });
    linear.clear();
    const Cost encode = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        benchmark::DoNotOptimize(codec::peers::EncodeJpeg(pixels[i % 2]).size());
      });
    });
    int written = 0;
    const Cost deliver = Timed([&] { written = delivery.Run(); });
    sound = sound && bad == 0 && written == frames && delivery.Off(pixels[0]) < 3;
    state.counters["frames"] = frames;
    state.counters["threads"] = Workers();
    state.counters["deliver_s"] = deliver.wall_s;
    state.counters["decode_s"] = decode.wall_s;
    state.counters["chain_s"] = chain.wall_s;
    state.counters["encode_s"] = encode.wall_s;
    state.counters["ratio_wall"] = deliver.wall_s / (decode.wall_s + chain.wall_s + encode.wall_s);
    state.counters["ratio_cpu"] = deliver.cpu_s / (decode.cpu_s + chain.cpu_s + encode.cpu_s);
    state.counters["peak_MiB"] = PeakMib();
  }
  std::error_code ignored;
  fs::remove_all(folder, ignored);
  if (!sound) state.SkipWithError("the output is not what the stages give");
}
BENCHMARK(DeliverRaw)->Iterations(1)->Unit(benchmark::kSecond)->UseRealTime();

}  // namespace
}  // namespace samelight::job
