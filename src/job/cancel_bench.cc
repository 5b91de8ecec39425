// How long each stage of a delivery goes on after it was asked to stop: one picture, asked at five moments
// spread over the stage. The argument is its size in megapixels. `answer_ms` is the worst of them in
// wall-clock time, `answer_cpu_ms` in processor time of the thread at work, which other programs do not
// lengthen; `full_ms` is the whole stage. More than 500 ms of processor time is an error where no library
// call is at work for longer (`library`).
#include <benchmark/benchmark.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <functional>
#include <thread>

#include <pthread.h>
#include <time.h>
#include <unistd.h>

#include "base/file.h"
#include "base/hash.h"
#include "codec/dng.h"
#include "codec/read.h"
#include "codec/write.h"
#include "image/reframe.h"
#include "render/edges.h"
#include "render/grain.h"
#include "render/grain_meter.h"
#include "render/render.h"

namespace samelight::job {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

double MsSince(Clock::time_point t) {
  return std::chrono::duration<double, std::milli>(Clock::now() - t).count();
}

double CpuMs(clockid_t clock) {
  timespec t{};
  ::clock_gettime(clock, &t);
  return 1e3 * static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_nsec);
}

struct Size {
  int width, height;
};
Size SizeOf(const benchmark::State& state) {
  const int height = static_cast<int>(std::sqrt(static_cast<double>(state.range(0)) * 1e6 / 1.5)) / 2 * 2;
  return {height * 3 / 2 / 2 * 2, height};
}

// An invented picture with the noise of a middle sensitivity.
template <class T, int kChannels>
image::Raster<T, kChannels> Invented(Size size) {
  image::Raster<T, kChannels> p(size.width, size.height);
  std::uint32_t dice = 5;
  std::size_t i = 0;
  constexpr double kFull = sizeof(T) == 1 ? 255 : 65535;
  for (T& v : p.data()) {
    dice = dice * 1664525u + 1013904223u;
    const double noise = static_cast<double>(dice >> 24) / 256 - 0.5;
    v = static_cast<T>(
        kFull * std::clamp(0.4 + 0.3 * std::sin(1e-4 * static_cast<double>(i++)) + 0.03 * noise, 0.0, 1.0));
  }
  return p;
}

struct Folder {
  fs::path path;
  Folder() {
    std::string pattern = (fs::temp_directory_path() / "samelight-cancel-XXXXXX").string();
    path = ::mkdtemp(pattern.data());
  }
  ~Folder() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
};

void Measure(benchmark::State& state, bool library, const std::function<Status(const Cancel&)>& stage) {
  double full = 0, worst = 0, worst_cpu = 0;
  int answered = 0;
  for (auto _ : state) {
    Clock::time_point begin = Clock::now();
    if (!stage(Cancel()).ok()) return state.SkipWithError("the stage fails when it is left alone");
    full = MsSince(begin);
    for (const double share : {0.1, 0.3, 0.5, 0.7, 0.9}) {
      const Cancel cancel;
      Clock::time_point asked;
      double asked_cpu = 0;
      clockid_t worker{};
      ::pthread_getcpuclockid(::pthread_self(), &worker);
      std::thread asker([&] {
        std::this_thread::sleep_for(std::chrono::duration<double, std::milli>(share * full));
        asked = Clock::now();
        asked_cpu = CpuMs(worker);
        cancel.Request();
      });
      const Status done = stage(cancel);
      const double returned_cpu = CpuMs(worker);
      const Clock::time_point returned = Clock::now();
      asker.join();
      if (done.ok()) continue;  // it was through before
      if (done.error().code != ErrorCode::kCancelled)
        return state.SkipWithError("it did not say that it was stopped");
      ++answered;
      worst_cpu = std::max(worst_cpu, returned_cpu - asked_cpu);
      worst = std::max(worst, std::chrono::duration<double, std::milli>(returned - asked).count());
    }
  }
  state.counters["full_ms"] = full;
  state.counters["answer_ms"] = worst;
  state.counters["answer_cpu_ms"] = worst_cpu;
  state.counters["answered"] = answered;
  if (answered == 0) return state.SkipWithError("it never stopped");
  if (!library && worst_cpu > 500) state.SkipWithError("more than 500 ms");
}

Status ReadIt(const fs::path& file, bool samples, const Cancel& cancel) {
  codec::ReadOptions options;
  options.cancel = cancel;
  options.keep_samples = samples;
  const auto picture = codec::ReadPicture(file, options);
  return picture.ok() ? Status() : Status(picture.error());
}

codec::WriteOptions As(codec::Format format, const Cancel& cancel) {
  codec::WriteOptions options;
  options.format = format;
  options.cancel = cancel;
  return options;
}

template <class T>
void Encoding(benchmark::State& state, codec::Format format, bool library) {
  const auto pixels = Invented<T, 3>(SizeOf(state));
  Measure(state, library, [&](const Cancel& cancel) {
    const auto bytes = codec::EncodePicture(pixels, As(format, cancel));
    return bytes.ok() ? Status() : Status(bytes.error());
  });
}
template <class T>
void Decoding(benchmark::State& state, codec::Format format) {
  const Folder folder;
  const fs::path file = folder.path / (std::string("a") + codec::Ending(format));
  if (!codec::WritePicture(file, Invented<T, 3>(SizeOf(state)), As(format, {})).ok())
    return state.SkipWithError("no picture");
  Measure(state, false, [&](const Cancel& cancel) { return ReadIt(file, true, cancel); });
}

void CancelEncodeJpeg(benchmark::State& state) { Encoding<std::uint8_t>(state, codec::Format::kJpeg, false); }
void CancelEncodeTiff16(benchmark::State& state) {
  Encoding<std::uint16_t>(state, codec::Format::kTiff16, false);
}
void CancelEncodePng16(benchmark::State& state) {
  Encoding<std::uint16_t>(state, codec::Format::kPng, false);
}
void CancelDecodeJpeg(benchmark::State& state) { Decoding<std::uint8_t>(state, codec::Format::kJpeg); }
void CancelDecodeTiff16(benchmark::State& state) { Decoding<std::uint16_t>(state, codec::Format::kTiff16); }
void CancelDecodePng16(benchmark::State& state) { Decoding<std::uint16_t>(state, codec::Format::kPng); }

// LibRaw asks between its steps and, while it interpolates, once a row of tiles.
void CancelDecodeRaw(benchmark::State& state) {
  const Folder folder;
  const Size size = SizeOf(state);
  auto mosaic = Invented<std::uint16_t, 1>(size);
  for (std::uint16_t& v : mosaic.data()) v = static_cast<std::uint16_t>(512 + v / 5);
  codec::DngSpec spec;
  spec.capture.make = "Invented";
  spec.capture.body = "Body";
  if (!codec::WriteDng(folder.path / "a.dng", mosaic, spec).ok()) return state.SkipWithError("no picture");
  Measure(state, true, [&](const Cancel& cancel) { return ReadIt(folder.path / "a.dng", true, cancel); });
}

void CancelReadBytes(benchmark::State& state) {
  const Folder folder;
  const std::vector<std::uint8_t> bytes(static_cast<std::size_t>(state.range(0)) * 6'000'000);
  if (!WriteFileWhole(folder.path / "a", bytes).ok()) return state.SkipWithError("no file");
  Measure(state, false, [&](const Cancel& cancel) {
    const auto read = ReadFile(folder.path / "a", 4ull << 30, cancel);
    return read.ok() ? Status() : Status(read.error());
  });
}

void CancelWriteBytes(benchmark::State& state) {
  const Folder folder;
  const std::vector<std::uint8_t> bytes(static_cast<std::size_t>(state.range(0)) * 6'000'000, 7);
  // The last step, syncing the disk, is one call.
  Measure(state, true, [&](const Cancel& cancel) { return WriteAside(folder.path / "a", bytes, cancel); });
}

// From a file's samples, with grain and acutance; the second argument is the long side to reduce to.
void CancelRender(benchmark::State& state) {
  const image::Samples samples = image::SixteenLinear(Invented<std::uint16_t, 3>(SizeOf(state)), {});
  render::RenderOptions options;
  options.grain.on = true;
  options.grain.model = render::FilmGrain(6, 12, 36);
  options.acutance.gain = 0.5;
  options.long_side_px = static_cast<int>(state.range(1));
  image::RgbU8 out;
  Measure(state, false, [&](const Cancel& cancel) {
    render::RenderOptions asked = options;
    asked.cancel = cancel;
    return render::Render(samples, {}, asked, out);
  });
}

// What the film's traits are measured by, and hashing.
void CancelHash(benchmark::State& state) {
  const std::vector<std::uint8_t> bytes(static_cast<std::size_t>(state.range(0)) * 6'000'000, 7);
  Measure(state, false, [&](const Cancel& cancel) {
    return HashOf(bytes, cancel).empty() ? Status(Error{ErrorCode::kCancelled, "stopped", "", ""}) : Status();
  });
}
void CancelFindEdges(benchmark::State& state) {
  const auto picture = Invented<std::uint8_t, 3>(SizeOf(state));
  Measure(state, true, [&](const Cancel& cancel) {  // blurring is one call of the library
    render::FindEdges(picture, cancel);
    return cancel.requested() ? Status(Error{ErrorCode::kCancelled, "stopped", "", ""}) : Status();
  });
}
void CancelReframe(benchmark::State& state) {
  const image::Samples samples = image::SixteenLinear(Invented<std::uint16_t, 3>(SizeOf(state)), {});
  image::RgbF linear;
  Measure(state, false, [&](const Cancel& cancel) {
    image::MakeLinear(samples, linear, cancel);
    image::Reframe(linear, {1, 0.1, 0.1, 0.9, 0.9, 2}, cancel);
    return cancel.requested() ? Status(Error{ErrorCode::kCancelled, "stopped", "", ""}) : Status();
  });
}
void CancelGrainOfOneScan(benchmark::State& state) {
  image::RgbF linear;
  image::MakeLinear(image::SixteenLinear(Invented<std::uint16_t, 3>(SizeOf(state)), {}), linear);
  Measure(state, false, [&](const Cancel& cancel) {
    render::GrainMeter meter;
    meter.Add(linear, 56, cancel);
    return cancel.requested() ? Status(Error{ErrorCode::kCancelled, "stopped", "", ""}) : Status();
  });
}

#define STAGE(name) \
  BENCHMARK(name)->ArgName("MP")->Arg(24)->Arg(100)->Iterations(1)->Unit(benchmark::kMillisecond)
STAGE(CancelHash);
STAGE(CancelFindEdges);
STAGE(CancelReframe);
STAGE(CancelGrainOfOneScan);
STAGE(CancelReadBytes);
STAGE(CancelDecodeJpeg);
STAGE(CancelDecodeTiff16);
STAGE(CancelDecodePng16);
STAGE(CancelDecodeRaw);
STAGE(CancelEncodeJpeg);
STAGE(CancelEncodeTiff16);
STAGE(CancelEncodePng16);
STAGE(CancelWriteBytes);
BENCHMARK(CancelRender)
    ->ArgNames({"MP", "side"})
    ->Args({24, 0})
    ->Args({100, 0})
    ->Args({100, 2048})
    ->Iterations(1)
    ->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::job
