// A whole delivery of camera JPEGs against the sum of what its stages cost alone: libjpeg-turbo's own
// decoding, the chain of colour, acutance and grain on pictures in memory, libjpeg-turbo's own encoding of
// our output pixels with our settings; the same files, threads and run. The output's pixels are compared with
// the chain's before a number is printed. Usage: job_bench --benchmark_filter=DeliverJpeg;
// SAMELIGHT_BENCH_FRAMES sets the number of frames (usually 40 of 24 megapixels). film:0 is an order without
// grain and acutance.
#include "job/delivery_bench_testing.h"

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
  record::Correction correction;
  correction.unify.display_referred = true;
  const Delivery delivery(Frames(40), ".jpg", {CameraJpeg(0), CameraJpeg(1)}, correction,
                          record::Encoding::kJpeg);
  delivery.HoldAgainstStages(state, state.range(0) == 1, [](const Delivery::Contents& bytes) {
    static thread_local std::vector<std::uint8_t> rows;
    codec::peers::DecodeJpeg(bytes, rows);
    return rows.size() == std::size_t{3} * kWidth * kHeight;
  });
}
BENCHMARK(DeliverJpeg)
    ->ArgName("film")
    ->Arg(1)
    ->Arg(0)
    ->Iterations(1)
    ->Unit(benchmark::kSecond)
    ->UseRealTime();

}  // namespace
}  // namespace samelight::job
