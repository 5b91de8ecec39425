// A whole delivery against the sum of what its stages cost alone: libjpeg-turbo's own decoding, the colour
// and grain chain on pictures in memory, libjpeg-turbo's own encoding of our output pixels with our settings;
// the same files, threads and run. The output's pixels are compared with the chain's before a number is
// printed. Usage: job_bench; SAMELIGHT_BENCH_FRAMES sets the number of frames (usually 40 of 24 megapixels).
#include <benchmark/benchmark.h>

#include "job/delivery_bench_testing.h"
#include "render/grain.h"

namespace samelight::job {
namespace {

using namespace bench;

// 4:2:0 at quality 92, as cameras write.
std::vector<std::uint8_t> CameraJpeg(int seed) {
  codec::WriteOptions options;
  options.quality = 92;
  options.subsampling = codec::Subsampling::k420;
  auto bytes = codec::EncodePicture(codec::peers::Scene(seed), options);
  return bytes.ok() ? std::move(bytes).value() : std::vector<std::uint8_t>();
}

void DeliverJpeg(benchmark::State& state) {
  const int frames = Frames(40);
  std::vector<std::vector<std::uint8_t>> kinds;
  for (int i = 0; i < 2; ++i) kinds.push_back(CameraJpeg(i));
  record::Correction correction;
  correction.unify.display_referred = true;
  const Delivery delivery(frames, ".jpg", kinds, correction, record::Encoding::kJpeg);
  bool sound = delivery.sound();
  if (!sound) return state.SkipWithError("the session could not be made");
  for (auto _ : state) {
    const auto n = static_cast<std::size_t>(frames);
    const Cost decode = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        static thread_local std::vector<std::uint8_t> rows;
        codec::peers::DecodeJpeg(kinds[i % 2], rows);
      });
    });
    std::vector<image::RgbF> linear(2);
    for (int i = 0; i < 2; ++i)
      linear[static_cast<std::size_t>(i)] =
          codec::ReadPicture(delivery.folder() / ("digital/P10" + std::to_string(i) + ".jpg"))->pixels;
    std::vector<image::RgbU8> pixels(2);
    render::RenderOptions render;
    for (std::size_t i = 0; i < 2; ++i)
      sound = sound && render::Render(linear[i], correction, render, pixels[i]).ok();
    const auto chain_of = [&](const render::RenderOptions& options) {
      return Timed([&] {
        ParallelFor(n, Cancel(), [&](std::size_t i) {
          static thread_local image::RgbU8 out;
          static_cast<void>(render::Render(linear[i % 2], correction, options, out).ok());
        });
      });
    };
    const Cost chain = chain_of(render);
    render::RenderOptions grained = render;
    grained.grain.on = true;
    grained.grain.model = render::FilmGrain(6, 12, 36);
    const Cost with_grain = chain_of(grained);
    linear.clear();
    const Cost encode = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        benchmark::DoNotOptimize(codec::peers::EncodeJpeg(pixels[i % 2]).size());
      });
    });
    int written = 0;
    const Cost deliver = Timed([&] { written = delivery.Run(); });
    // Our file decodes to the chain's pixels, within what quality 95 costs.
    sound = sound && written == frames && delivery.Off(pixels[0]) < 3;
    const double sum_wall = decode.wall_s + chain.wall_s + encode.wall_s,
                 sum_cpu = decode.cpu_s + chain.cpu_s + encode.cpu_s;
    state.counters["frames"] = frames;
    state.counters["threads"] = Workers();
    state.counters["bits_per_pixel"] = 8.0 * static_cast<double>(kinds[0].size()) / kWidth / kHeight;
    state.counters["deliver_s"] = deliver.wall_s;
    state.counters["decode_s"] = decode.wall_s;
    state.counters["chain_s"] = chain.wall_s;
    state.counters["grain_chain_s"] = with_grain.wall_s;
    state.counters["encode_s"] = encode.wall_s;
    state.counters["ratio_wall"] = deliver.wall_s / sum_wall;
    state.counters["ratio_cpu"] = deliver.cpu_s / sum_cpu;
    state.counters["ratio_without_chain"] = deliver.wall_s / (decode.wall_s + encode.wall_s);
    state.counters["peak_MiB"] = PeakMib();
  }
  if (!sound) state.SkipWithError("the output is not what the stages give");
}
BENCHMARK(DeliverJpeg)->Iterations(1)->Unit(benchmark::kSecond)->UseRealTime();

}  // namespace
}  // namespace samelight::job
