// Decoding and encoding against the libraries underneath, alone: same settings, one thread, outputs compared
// before a number is printed. Ours ends in linear BT.2020 floats, upright; bare libraries end in their own
// bytes.
#include <cstdio>

#include <jpeglib.h>

#include <benchmark/benchmark.h>
#include <libraw/libraw.h>

#include <cmath>
#include <cstdlib>
#include <ctime>
#include <memory>

#include "codec/dng.h"
#include "codec/read.h"
#include "codec/testing.h"
#include "codec/write.h"

// OpenMP API 4.5, 3.2.1.
extern "C" void omp_set_num_threads(int);

namespace samelight::codec {
namespace {

constexpr int kWidth = 6000, kHeight = 4000;

// Time that this thread was given, so that a busy machine does not spoil the figures.
double Now() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

// Hills, texture and noise that makes files of the size that cameras write (8 to 14 MB, common practice).
const image::RgbU8& Scene() {
  static const image::RgbU8 kScene = [] {
    image::RgbU8 p(kWidth, kHeight);
    std::uint32_t dice = 12345;
    const auto next = [&] {
      dice = dice * 1664525u + 1013904223u;
      return (static_cast<double>(dice >> 24) - 127.5) / 127.5;
    };
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) {
        const double u = x / 6000.0, v = y / 4000.0;
        const double level = 110 + 60 * std::sin(7 * u + 3 * std::sin(5 * v)) +
                             14 * std::sin(400 * u + 300 * v) + 11 * (next() + next());
        for (int c = 0; c < 3; ++c)
          p.at(x, y)[c] = static_cast<std::uint8_t>(
              std::clamp(level + 25 * std::sin(9 * v + 4 * u + 2.1 * c) + 4 * next(), 0.0, 255.0));
      }
    return p;
  }();
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

void ReadJpeg(benchmark::State& state) {
  const testing::Folder folder;
  WriteOptions options;
  options.quality = 92;
  options.subsampling = Subsampling::k420;
  const auto bytes = EncodePicture(Scene(), options);
  if (!bytes.ok()) return state.SkipWithError("no picture");
  testing::WriteBytes(folder / "a.jpg", *bytes);
  std::vector<std::uint8_t> rows;
  BareDecode(*bytes, rows);
  image::RgbF buffer;
  auto picture = ReadPicture(folder / "a.jpg", {}, std::move(buffer));
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
  buffer = std::move(picture->pixels);
  Compare(
      state,
      [&] {
        auto again = ReadPicture(folder / "a.jpg", {}, std::move(buffer));
        buffer = std::move(again->pixels);
      },
      [&] { BareDecode(*bytes, rows); });
  state.counters["bits_per_pixel"] = 8.0 * static_cast<double>(bytes->size()) / kWidth / kHeight;
}
BENCHMARK(ReadJpeg)->Unit(benchmark::kMillisecond);

// Bytes of bare libjpeg-turbo with the settings that EncodePicture() uses by default.
std::vector<std::uint8_t> BareEncode(const image::RgbU8& pixels) {
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
  jpeg_set_quality(&info, WriteOptions{}.quality, TRUE);
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
  std::vector<std::uint8_t> out(data, data + size);
  std::free(data);
  return out;
}

void WriteJpeg(benchmark::State& state) {
  const auto ours = EncodePicture(Scene(), {});
  const auto bare = BareEncode(Scene());
  if (!ours.ok()) return state.SkipWithError("not encoded");
  std::vector<std::uint8_t> a, b;
  BareDecode(*ours, a);
  BareDecode(bare, b);
  if (a != b) return state.SkipWithError("wrong pixels");
  Compare(
      state, [&] { benchmark::DoNotOptimize(EncodePicture(Scene(), {})->size()); },
      [&] { benchmark::DoNotOptimize(BareEncode(Scene()).size()); });
}
BENCHMARK(WriteJpeg)->Unit(benchmark::kMillisecond);

// AHD, without any of LibRaw's own colour.
std::unique_ptr<LibRaw> BareRaw(const std::vector<std::uint8_t>& bytes) {
  auto raw = std::make_unique<LibRaw>();
  auto& p = raw->imgdata.params;
  p.output_color = 0;
  p.output_bps = 16;
  p.gamm[0] = p.gamm[1] = 1;
  p.no_auto_bright = 1;
  p.use_camera_wb = 1;
  p.user_qual = 3;
  if (raw->open_buffer(const_cast<std::uint8_t*>(bytes.data()), bytes.size()) != LIBRAW_SUCCESS ||
      raw->unpack() != LIBRAW_SUCCESS || raw->dcraw_process() != LIBRAW_SUCCESS)
    return nullptr;
  return raw;
}

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
  const auto bare = BareRaw(bytes);
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
  image::RgbF buffer = std::move(picture->pixels);
  Compare(
      state,
      [&] {
        auto again = ReadPicture(folder / "a.dng", {}, std::move(buffer));
        buffer = std::move(again->pixels);
      },
      [&] { benchmark::DoNotOptimize(BareRaw(bytes).get()); });
}
BENCHMARK(ReadRaw)->Iterations(2)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::codec
