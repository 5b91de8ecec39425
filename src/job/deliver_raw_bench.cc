// A delivery of raw frames against bare LibRaw with the same interpolation of colours, the chain and bare
// encoding; otherwise like deliver_bench.cc. SAMELIGHT_BENCH_FRAMES sets the number of frames (usually 8 of
// 24 megapixels).
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
  std::string pattern = (fs::temp_directory_path() / "samelight-raw-XXXXXX").string();
  const fs::path folder = ::mkdtemp(pattern.data());
  std::vector<std::vector<std::uint8_t>> kinds = {CameraRaw(folder, 1), CameraRaw(folder, 2)};
  std::error_code ignored;
  fs::remove_all(folder, ignored);
  const Delivery delivery(Frames(8), ".dng", std::move(kinds), record::Correction(), record::Encoding::kRaw);
  delivery.HoldAgainstStages(state, state.range(0) == 1, Developed);
}
BENCHMARK(DeliverRaw)
    ->ArgName("film")
    ->Arg(1)
    ->Arg(0)
    ->Iterations(1)
    ->Unit(benchmark::kSecond)
    ->UseRealTime();

}  // namespace
}  // namespace samelight::job
