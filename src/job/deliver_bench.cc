// A whole delivery against the sum of what its stages cost alone: libjpeg-turbo's own decoding, the colour
// and grain chain on pictures in memory, libjpeg-turbo's own encoding of our output pixels with our settings;
// the same files, threads and run. Every file's pixels are compared with the chain's before a number is
// printed. Usage: job_bench; SAMELIGHT_BENCH_FRAMES sets the number of frames (usually 40 of 24 megapixels).
#include <cstdio>

#include <jpeglib.h>

#include <benchmark/benchmark.h>
#include <sys/resource.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>

#include "base/file.h"
#include "base/hash.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "codec/write.h"
#include "job/stages.h"
#include "render/grain.h"
#include "render/render.h"

namespace samelight::job {
namespace {

constexpr int kWidth = 6000, kHeight = 4000;

double Wall() {
  timespec t{};
  clock_gettime(CLOCK_MONOTONIC, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
// Of all threads: what a busy machine does not spoil.
double Processor() {
  timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
struct Cost {
  double wall_s, cpu_s;
};
template <class F>
Cost Timed(F&& f) {
  const double wall = Wall(), cpu = Processor();
  f();
  return {Wall() - wall, Processor() - cpu};
}

// Faces of hills, texture and a camera's noise; 4:2:0 at quality 92, as cameras write.
std::vector<std::uint8_t> CameraJpeg(int seed) {
  image::RgbU8 p(kWidth, kHeight);
  std::uint32_t dice = 12345u + static_cast<std::uint32_t>(seed);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const double u = x / 6000.0, v = y / 4000.0;
      const double level =
          110 + 60 * std::sin(7 * u + 3 * std::sin(5 * v) + seed) + 14 * std::sin(400 * u + 300 * v);
      for (int c = 0; c < 3; ++c) {
        dice = dice * 1664525u + 1013904223u;
        const double noise = (static_cast<double>(dice >> 24) - 128) / 32;
        p.at(x, y)[c] = static_cast<std::uint8_t>(
            std::clamp(level + 25 * std::sin(9 * v + 4 * u + 2.1 * c) + noise, 0.0, 255.0));
      }
    }
  codec::WriteOptions options;
  options.quality = 92;
  options.subsampling = codec::Subsampling::k420;
  auto bytes = codec::EncodePicture(p, options);
  return bytes.ok() ? std::move(bytes).value() : std::vector<std::uint8_t>();
}

void BareDecode(const std::vector<std::uint8_t>& bytes, std::vector<std::uint8_t>& rows) {
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors;
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, bytes.data(), bytes.size());
  jpeg_read_header(&info, TRUE);
  info.dct_method = JDCT_ISLOW;
  jpeg_start_decompress(&info);
  const std::size_t stride = 3 * info.output_width;
  rows.resize(stride * info.output_height);
  while (info.output_scanline < info.output_height) {
    JSAMPROW row = rows.data() + stride * info.output_scanline;
    jpeg_read_scanlines(&info, &row, 1);
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
}

std::size_t BareEncode(const image::RgbU8& pixels) {
  jpeg_compress_struct info{};
  jpeg_error_mgr errors;
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* data = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &data, &size);
  info.image_width = static_cast<JDIMENSION>(pixels.width());
  info.image_height = static_cast<JDIMENSION>(pixels.height());
  info.input_components = 3;
  info.in_color_space = JCS_RGB;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, 95, TRUE);
  info.dct_method = JDCT_ISLOW;
  info.optimize_coding = TRUE;
  info.comp_info[0].h_samp_factor = info.comp_info[0].v_samp_factor = 1;
  jpeg_start_compress(&info, TRUE);
  while (info.next_scanline < info.image_height) {
    JSAMPROW row = const_cast<JSAMPROW>(pixels.row(static_cast<int>(info.next_scanline)));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  std::free(data);
  return size;
}

// Argument: 1 with grain (of a model without scans, so nothing is measured), 0 without.
void DeliverJpeg(benchmark::State& state) {
  const char* wish = std::getenv("SAMELIGHT_BENCH_FRAMES");
  const int frames = wish != nullptr ? std::max(2, std::atoi(wish)) : 40;
  std::string pattern = (fs::temp_directory_path() / "samelight-bench-XXXXXX").string();
  const fs::path folder = fs::canonical(::mkdtemp(pattern.data()));
  std::vector<std::vector<std::uint8_t>> kinds;
  for (int i = 0; i < 2; ++i) kinds.push_back(CameraJpeg(i));
  const auto bytes_of = [&](int i) -> const std::vector<std::uint8_t>& {
    return kinds[static_cast<std::size_t>(i % 2)];
  };
  const fs::path file = folder / "a.samelight";
  bool sound = true;
  {
    auto session = session::Session::Open(file, session::Access::kCreate);
    auto change = (*session)->Begin();
    fs::create_directories(folder / "digital");
    session::MatchResult match;
    for (int i = 0; i < frames; ++i) {
      record::Photo photo;
      photo.path = "digital/P" + std::to_string(100 + i) + ".jpg";
      sound = sound && WriteFileWhole(folder / photo.path, bytes_of(i)).ok();
      ContentHash hash;
      hash.Add(bytes_of(i).data(), bytes_of(i).size());
      photo.hash = hash.Hex();
      photo.width_px = kWidth;
      photo.height_px = kHeight;
      photo.bytes = bytes_of(i).size();
      sound = sound && change->Put(photo).ok();
      record::FrameSolution solution;
      solution.frame = solution.correction.frame = photo.id;
      solution.correction.unify.display_referred = true;
      match.frames.push_back(solution);
    }
    sound = sound && change->ReplaceMatch(match).ok() && change->Commit().ok();
  }
  if (!sound) return state.SkipWithError("the session could not be made");
  record::Correction correction;
  correction.unify.display_referred = true;

  for (auto _ : state) {
    const auto n = static_cast<std::size_t>(frames);
    const Cost decode = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        static thread_local std::vector<std::uint8_t> rows;
        BareDecode(bytes_of(static_cast<int>(i)), rows);
      });
    });
    std::vector<image::RgbF> linear(2);
    for (int i = 0; i < 2; ++i)
      linear[static_cast<std::size_t>(i)] =
          codec::ReadPicture(folder / ("digital/P10" + std::to_string(i) + ".jpg"))->pixels;
    std::vector<image::RgbU8> pixels(2);
    render::RenderOptions render;
    for (std::size_t i = 0; i < 2; ++i)
      sound = sound && render::Render(linear[i], correction, render, pixels[i]).ok();
    const Cost chain = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        static thread_local image::RgbU8 out;
        static_cast<void>(render::Render(linear[i % 2], correction, render, out).ok());
      });
    });
    render::RenderOptions grained = render;
    grained.grain.on = true;
    grained.grain.model = render::FilmGrain(6, 12, 36);
    const Cost with_grain = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) {
        static thread_local image::RgbU8 out;
        static_cast<void>(render::Render(linear[i % 2], correction, grained, out).ok());
      });
    });
    linear.clear();
    const Cost encode = Timed([&] {
      ParallelFor(n, Cancel(), [&](std::size_t i) { benchmark::DoNotOptimize(BareEncode(pixels[i % 2])); });
    });
    fs::remove_all(folder / "out");
    int written = 0;
    const Cost deliver = Timed([&] {
      auto session = session::Session::Open(file, session::Access::kWrite);
      SilentProgress silent;
      DeliverOptions options;
      options.again = true;
      std::vector<session::Problem> problems;
      auto answer =
          DeliverAll(**session, folder / "out", record::Order{}, options, problems, {silent, Cancel()});
      written = answer.ok() ? answer->written : 0;
    });
    sound = sound && written == frames;
    // Our file decodes to the chain's pixels, within what quality 95 costs.
    const auto back = codec::ReadPicture(folder / "out" / "P100.jpg");
    sound = sound && back.ok() && back->pixels.width() == kWidth;
    std::vector<std::uint8_t> rows;
    auto file_bytes = ReadFile(folder / "out" / "P100.jpg", 1u << 30);
    if (file_bytes.ok()) BareDecode(*file_bytes, rows);
    double off = 0;
    for (std::size_t i = 0; i < rows.size(); i += 101)
      off += std::abs(static_cast<int>(rows[i]) - pixels[0].data()[i]);
    sound = sound && !rows.empty() && off / (static_cast<double>(rows.size()) / 101) < 2;
    const double sum_wall = decode.wall_s + chain.wall_s + encode.wall_s,
                 sum_cpu = decode.cpu_s + chain.cpu_s + encode.cpu_s;
    state.counters["frames"] = frames;
    state.counters["threads"] = Workers();
    state.counters["deliver_s"] = deliver.wall_s;
    state.counters["decode_s"] = decode.wall_s;
    state.counters["chain_s"] = chain.wall_s;
    state.counters["grain_chain_s"] = with_grain.wall_s;
    state.counters["encode_s"] = encode.wall_s;
    state.counters["ratio_wall"] = deliver.wall_s / sum_wall;
    state.counters["ratio_cpu"] = deliver.cpu_s / sum_cpu;
    state.counters["ratio_without_chain"] = deliver.wall_s / (decode.wall_s + encode.wall_s);
    rusage usage{};
    ::getrusage(RUSAGE_SELF, &usage);
    state.counters["peak_MiB"] = static_cast<double>(usage.ru_maxrss) / 1024;
  }
  std::error_code ignored;
  fs::remove_all(folder, ignored);
  if (!sound) state.SkipWithError("the output is not what the stages give");
}
BENCHMARK(DeliverJpeg)->Iterations(1)->Unit(benchmark::kSecond)->UseRealTime();

}  // namespace
}  // namespace samelight::job
