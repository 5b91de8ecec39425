// Speed of the colour path, one thread, against other libraries in the same run. Every benchmark checks its
// own output, and that of the other library, before a number is printed. Peers' settings are their fastest
// for the same job (common practice).
#include <benchmark/benchmark.h>
#include <hwy/targets.h>
#include <lcms2.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <vector>

#include "render/bake.h"
#include "render/grain.h"
#include "render/lookup.h"
#include "render/quantise.h"
#include "render/render.h"
#include "render/samples_test.h"

#ifdef SAMELIGHT_HAVE_OCIO
#include <OpenColorIO/OpenColorIO.h>
namespace ocio = OCIO_NAMESPACE;
#endif

namespace samelight::render {
namespace {

constexpr int kWidth = 6000, kHeight = 4000;

// Time that this thread was given, so that a busy machine does not spoil the figures.
double Now() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

// A smooth scene of many colours with fine texture and the noise of a middle sensitivity (2.9 % of a value),
// scene-linear, 24 MP. Its grain is weak: the noise is taken off it.
const image::RgbF& Scene() {
  static const image::RgbF kScene = [] {
    image::RgbF p(kWidth, kHeight);
    Dice dice(7);
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) {
        const double u = x / 6000.0, v = y / 4000.0;
        const double level =
            -3 + 2.5 * std::sin(7 * u + 3 * std::sin(5 * v)) + 0.3 * std::sin(400 * u + 300 * v);
        for (int c = 0; c < 3; ++c)
          p.at(x, y)[c] = static_cast<float>(std::exp2(level + 0.7 * std::sin(9 * v + 4 * u + 2.1 * c)) *
                                             dice.Between(0.95, 1.05));
      }
    return p;
  }();
  return kScene;
}

// Reports millions of pixels a second of one timed body, best of the iterations.
template <class Body>
void Report(benchmark::State& state, Body body) {
  double best = 1e9;
  for (auto _ : state) {
    const double t = Now();
    body();
    best = std::min(best, Now() - t);
  }
  state.counters["MP/s"] = Scene().pixels() / best / 1e6;
}

bool CloseToExact(const look::Resolved& resolved, const std::vector<float>& rgbx) {
  for (std::size_t i = 0; i < Scene().pixels(); i += 99991) {
    const float* p = &Scene().data()[3 * i];
    const Vec3 exact = Exact(resolved, color::Space::kSrgb, {p[0], p[1], p[2]});
    for (int c = 0; c < 3; ++c)
      if (!(std::abs(std::clamp(rgbx[4 * i + c], 0.0f, 1.0f) - exact[c]) < 0.02)) return false;
  }
  return true;
}

// Arguments: nodes, seed of the correction (3 has skin apart), 1 to do without AVX-512.
void LookupNodes(benchmark::State& state) {
  const look::Resolved resolved =
      look::Resolve(RandomCorrection(static_cast<unsigned>(state.range(1)), false));
  BakedCorrection baked;
  Bake(resolved, color::Space::kSrgb, static_cast<int>(state.range(0)), baked);
  std::vector<float> rgbx(4 * Scene().pixels());
#if HWY_ARCH_X86
  if (state.range(2) == 1) {
    if ((hwy::SupportedTargets() & HWY_AVX2) == 0) return state.SkipWithError("no AVX2 here");
    hwy::SetSupportedTargetsForTest(HWY_AVX2);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
  }
#endif
  Lookup(baked, Scene().data().data(), Scene().pixels(), rgbx.data());
  if (!CloseToExact(resolved, rgbx)) return state.SkipWithError("wrong output");
  // Rows into one buffer, as the renderer does it.
  Report(state, [&] {
    for (int y = 0; y < kHeight; ++y) Lookup(baked, Scene().row(y), kWidth, rgbx.data());
  });
  hwy::SetSupportedTargetsForTest(0);
  hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}
BENCHMARK(LookupNodes)
    ->Args({33, 1, 0})
    ->Args({49, 1, 0})
    ->Args({65, 1, 0})
    ->Args({33, 1, 1})
    ->Args({49, 1, 1})
    ->Args({49, 3, 0})
    ->Args({49, 3, 1})
    ->Unit(benchmark::kMillisecond);

void LookupNodesPlain(benchmark::State& state) {
  const look::Resolved resolved = look::Resolve(RandomCorrection(1, false));
  BakedCorrection baked;
  Bake(resolved, color::Space::kSrgb, 33, baked);
  std::vector<float> rgbx(4 * kWidth);
  Report(state, [&] {
    for (int y = 0; y < kHeight; ++y) LookupPlain(baked, Scene().row(y), kWidth, rgbx.data());
  });
}
BENCHMARK(LookupNodesPlain)->Unit(benchmark::kMillisecond)->Iterations(1);

// The whole chain, bake included, to 8 bit. Argument: 0 colour only, 1 with grain, 2 with grain and acutance.
void WholeRender8(benchmark::State& state) {
  const record::Correction c = RandomCorrection(2, false);
  RenderOptions options;
  options.grain.on = state.range(0) > 0;
  options.grain.model = FilmGrain(6, 12, 36);
  options.acutance.gain = state.range(0) > 1 ? 0.5 : 0;
  const auto plain = Render8(Scene(), c, {}), out = Render8(Scene(), c, options);
  if (!plain.ok() || !out.ok()) return state.SkipWithError("rendering failed");
  double off = 0, squares = 0;
  for (std::size_t i = 0; i < out->data().size(); i += 7) {
    const double d = out->data()[i] - plain->data()[i];
    off += d;
    squares += d * d;
  }
  const double n = static_cast<double>(out->data().size()) / 7;
  const bool sound = std::abs(off / n) < 0.3 && (state.range(0) == 0 ? squares == 0 : squares / n > 0.1);
  if (!sound) return state.SkipWithError("grain is missing or changes the mean");
  image::RgbU8 again;
  bool all = true;
  Report(state, [&] { all = Render(Scene(), c, options, again).ok() && all; });
  if (!all || again.data() != out->data()) state.SkipWithError("not the same twice");
}
BENCHMARK(WholeRender8)->Arg(0)->Arg(1)->Arg(2)->Unit(benchmark::kMillisecond);

// The same from the pixels of a file, with grain. 16: linear, as a raw decoder gives them; 8: sRGB through a
// table, as a JPEG gives them. In one run with it, by turns: the same from floats, and what the memory alone
// takes (each value read, a byte of it written).
void WholeRenderSamplesTo8(benchmark::State& state) {
  constexpr float kScale = 16.0f / 65535;
  image::Samples samples;
  record::Correction c = RandomCorrection(2, state.range(0) == 8);
  if (state.range(0) == 16) {
    image::RgbU16 sixteen(kWidth, kHeight);
    for (std::size_t i = 0; i < sixteen.data().size(); ++i)
      sixteen.data()[i] =
          static_cast<std::uint16_t>(std::clamp(Scene().data()[i] / kScale + 0.5f, 0.0f, 65535.0f));
    samples = image::SixteenLinear(std::move(sixteen), {0, kScale, kIdentity3});
  } else {
    samples.eight.Resize(kWidth, kHeight);
    std::vector<float> table(256);
    for (int i = 0; i < 256; ++i)
      table[i] = static_cast<float>(color::Decode(color::Space::kSrgb, i / 255.0));
    for (std::size_t i = 0; i < samples.eight.data().size(); ++i)
      samples.eight.data()[i] = static_cast<std::uint8_t>(
          std::lround(255 * color::Encode(color::Space::kSrgb, std::clamp(Scene().data()[i], 0.0f, 1.0f))));
    samples.to_linear = [table](const void* stored, std::size_t count, float* linear) {
      const auto* from = static_cast<const std::uint8_t*>(stored);
      for (std::size_t i = 0; i < 3 * count; ++i) linear[i] = table[from[i]];
    };
  }
  image::RgbF floats;
  image::MakeLinear(samples, floats);
  RenderOptions options;
  options.grain.on = true;
  options.grain.model = FilmGrain(6, 12, 36);
  image::RgbU8 direct, out, copied(kWidth, kHeight);
  if (!Render(floats, c, options, direct).ok()) return state.SkipWithError("rendering failed");
  double best = 1e9, best_floats = 1e9, best_copy = 1e9;
  const auto timed = [](double& least, const auto& work) {
    const double t = Now();
    work();
    least = std::min(least, Now() - t);
  };
  bool all = true;
  for (auto _ : state) {
    timed(best, [&] { all = Render(samples, c, options, out).ok() && all; });
    all = all && out.data() == direct.data();
    timed(best_floats, [&] { all = Render(floats, c, options, out).ok() && all; });
    timed(best_copy, [&] {
      const std::size_t n = copied.data().size();
      if (state.range(0) == 16)
        for (std::size_t i = 0; i < n; ++i)
          copied.data()[i] = static_cast<std::uint8_t>(samples.sixteen.data()[i] >> 8);
      else
        std::copy_n(samples.eight.data().data(), n, copied.data().data());
    });
    benchmark::DoNotOptimize(copied.data().data());
  }
  if (!all) return state.SkipWithError("samples and floats differ");
  state.counters["MP/s"] = Scene().pixels() / best / 1e6;
  state.counters["floats MP/s"] = Scene().pixels() / best_floats / 1e6;
  state.counters["memory MP/s"] = Scene().pixels() / best_copy / 1e6;
}
BENCHMARK(WholeRenderSamplesTo8)->Arg(16)->Arg(8)->Iterations(6)->Unit(benchmark::kMillisecond);

void GrainOnly(benchmark::State& state) {
  const NoiseShape shape =
      ShapeFor(FilmGrain(6, static_cast<double>(state.range(0)), 36), kWidth, color::Space::kSrgb, 1, 1);
  std::vector<float> rgbx(4 * 512, 0.5f);
  NoiseStrip strip;
  Report(state, [&] {
    for (int x0 = 0; x0 < kWidth; x0 += 512) {
      const int width = std::min(512, kWidth - x0);
      strip.Begin(shape, 1, x0, width);
      for (int y = 0; y < kHeight; ++y) {
        std::fill(rgbx.begin(), rgbx.end(), 0.5f);
        strip.Add(rgbx.data());
      }
    }
  });
  state.counters["radius"] = shape.radius();
}
BENCHMARK(GrainOnly)->Arg(6)->Arg(12)->Arg(24)->Unit(benchmark::kMillisecond);

void BakeOnly(benchmark::State& state) {
  const look::Resolved resolved = look::Resolve(RandomCorrection(1, false));
  BakedCorrection baked;
  for (auto _ : state) Bake(resolved, color::Space::kSrgb, static_cast<int>(state.range(0)), baked);
}
BENCHMARK(BakeOnly)->Arg(33)->Arg(49)->Unit(benchmark::kMillisecond);

#ifdef SAMELIGHT_HAVE_OCIO
// The same work on both sides. Argument 0: one 33-node table alone, the same nodes, on pixels already in its
// coordinates; both outputs are compared. Argument 2: the same on colours without any order. Argument 1:
// matrix, shaper and table, each library's own shaper.
void AgainstOpenColorIo(benchmark::State& state) {
  const bool table_only = state.range(0) != 1, disorder = state.range(0) == 2;
  constexpr int kSide = 33;
  const look::Resolved resolved = look::Resolve(RandomCorrection(1, false));
  BakedCorrection baked;
  Bake(resolved, color::Space::kSrgb, kSide, baked);
  auto group = ocio::GroupTransform::Create();
  // Shaper: log2 over -12..4, to 0..1.
  auto lin = ocio::LogAffineTransform::Create();
  const double slope[3] = {1.0 / 16, 1.0 / 16, 1.0 / 16}, offset[3] = {0.75, 0.75, 0.75};
  lin->setBase(2);
  lin->setLogSideSlopeValue(slope);
  lin->setLogSideOffsetValue(offset);
  auto lut = ocio::Lut3DTransform::Create(kSide);
  lut->setInterpolation(ocio::INTERP_TETRAHEDRAL);
  Baked same;
  same.nodes = kSide;
  same.SetNodes(kSide);
  float* node = same.entries();
  for (int r = 0; r < kSide; ++r)
    for (int g = 0; g < kSide; ++g)
      for (int b = 0; b < kSide; ++b, node += 4) {
        const auto x = [&](int i) { return std::exp2(16.0 * i / (kSide - 1) - 12); };
        const Vec3 v = Exact(resolved, color::Space::kSrgb, {x(r), x(g), x(b)});
        for (int c = 0; c < 3; ++c) node[c] = static_cast<float>(v[c]);
        node[3] = 0;
        lut->setValue(r, g, b, node[0], node[1], node[2]);
      }
  if (!table_only) {
    auto matrix = ocio::MatrixTransform::Create();
    const double one[16] = {0.9999, 0.0001, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1};
    matrix->setMatrix(one);
    group->appendTransform(matrix);
    group->appendTransform(lin);
  }
  group->appendTransform(lut);
  const auto config = ocio::Config::CreateRaw();
  const auto processor = config->getProcessor(group)->getOptimizedCPUProcessor(
      ocio::BIT_DEPTH_F32, ocio::BIT_DEPTH_F32, ocio::OPTIMIZATION_VERY_GOOD);
  image::RgbF places;
  if (table_only) {
    places.Resize(kWidth, kHeight);
    Dice dice(3);
    for (std::size_t i = 0; i < places.data().size(); ++i)
      places.data()[i] =
          disorder ? static_cast<float>(dice.Between(0, 1))
                   : std::clamp((std::log2(std::max(1e-9f, Scene().data()[i])) + 12) / 16, 0.0f, 1.0f);
  }
  const image::RgbF& in_pixels = table_only ? places : Scene();
  std::vector<float> theirs(3 * Scene().pixels()), ours(4 * kWidth);
  const auto run_theirs = [&] {
    ocio::PackedImageDesc in(const_cast<float*>(in_pixels.data().data()), kWidth, kHeight,
                             ocio::CHANNEL_ORDERING_RGB, ocio::BIT_DEPTH_F32, ocio::AutoStride,
                             ocio::AutoStride, ocio::AutoStride);
    ocio::PackedImageDesc out(theirs.data(), kWidth, kHeight, ocio::CHANNEL_ORDERING_RGB, ocio::BIT_DEPTH_F32,
                              ocio::AutoStride, ocio::AutoStride, ocio::AutoStride);
    processor->apply(in, out);
  };
  const auto row = [&](int y, int strip = kWidth) {
    for (int x = 0; x < kWidth; x += strip) {
      const auto count = static_cast<std::size_t>(std::min(strip, kWidth - x));
      if (table_only)
        LookupTable(same, in_pixels.at(x, y), count, ours.data());
      else
        Lookup(baked, in_pixels.at(x, y), count, ours.data());
    }
  };
  run_theirs();
  // The chains interpolate between other nodes: they may differ by more than 0.05 in one value of 500.
  long looked_at = 0, off = 0;
  for (int y = 0; y < kHeight; y += 97) {
    row(y);
    for (int x = 0; x < kWidth; x += 31)
      for (int c = 0; c < 3; ++c) {
        const double their = theirs[3 * (static_cast<std::size_t>(y) * kWidth + x) + c];
        ++looked_at;
        off += !(std::abs(their - ours[4 * x + c]) < (table_only ? 2e-5 : 0.05));
      }
  }
  if (off > (table_only ? 0 : looked_at / 500)) return state.SkipWithError("the outputs differ");
  // Theirs over the whole picture, ours in whole rows, and by 512 columns as the renderer works.
  double best_ours = 1e9, best_strips = 1e9, best_theirs = 1e9;
  const auto timed = [](double& best, const auto& work) {
    const double t = Now();
    work();
    best = std::min(best, Now() - t);
  };
  for (auto _ : state) {
    timed(best_theirs, run_theirs);
    for (int again = 0; again < 3; ++again) {  // both about as long as theirs
      timed(best_ours, [&] {
        for (int y = 0; y < kHeight; ++y) row(y);
      });
      timed(best_strips, [&] {
        for (int y = 0; y < kHeight; ++y) row(y, 512);
      });
    }
  }
  state.counters["MP/s"] = Scene().pixels() / best_ours / 1e6;
  state.counters["strips MP/s"] = Scene().pixels() / best_strips / 1e6;
  state.counters["their MP/s"] = Scene().pixels() / best_theirs / 1e6;
  state.counters["ratio"] = best_theirs / best_ours;
  state.counters["strips ratio"] = best_theirs / best_strips;
}
BENCHMARK(AgainstOpenColorIo)->Arg(0)->Arg(2)->Arg(1)->Iterations(3)->Unit(benchmark::kMillisecond);
#endif

// LittleCMS with a 33-node table on float pixels, and on 16 bit (its fast path).
void AgainstLittleCms(benchmark::State& state) {
  const bool sixteen = state.range(0) == 16;
  constexpr int kSide = 33;
  const look::Resolved resolved = look::Resolve(RandomCorrection(1, false));
  BakedCorrection baked;
  Bake(resolved, color::Space::kSrgb, kSide, baked);
  // Input encoded as log2 over -12..4; their pipeline is the table alone.
  const auto x = [](double t) { return std::exp2(16 * t - 12); };
  cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, 3, 3);
  struct Both {
    const look::Resolved* resolved;
  } both{&resolved};
  cmsStage* clut = sixteen ? cmsStageAllocCLut16bit(nullptr, kSide, 3, 3, nullptr)
                           : cmsStageAllocCLutFloat(nullptr, kSide, 3, 3, nullptr);
  if (sixteen)
    cmsStageSampleCLut16bit(
        clut,
        [](const cmsUInt16Number in[], cmsUInt16Number out[], void* cargo) -> cmsInt32Number {
          Vec3 p{};
          for (int c = 0; c < 3; ++c) p[c] = std::exp2(16 * (in[c] / 65535.0) - 12);
          const Vec3 v = Exact(*static_cast<Both*>(cargo)->resolved, color::Space::kSrgb, p);
          for (int c = 0; c < 3; ++c) out[c] = static_cast<cmsUInt16Number>(std::lround(65535 * v[c]));
          return TRUE;
        },
        &both, 0);
  else
    cmsStageSampleCLutFloat(
        clut,
        [](const cmsFloat32Number in[], cmsFloat32Number out[], void* cargo) -> cmsInt32Number {
          Vec3 p{};
          for (int c = 0; c < 3; ++c) p[c] = std::exp2(16.0 * in[c] - 12);
          const Vec3 v = Exact(*static_cast<Both*>(cargo)->resolved, color::Space::kSrgb, p);
          for (int c = 0; c < 3; ++c) out[c] = static_cast<float>(v[c]);
          return TRUE;
        },
        &both, 0);
  cmsPipelineInsertStage(pipeline, cmsAT_END, clut);
  cmsHPROFILE profile = cmsCreateProfilePlaceholder(nullptr);
  cmsSetProfileVersion(profile, 4.3);
  cmsSetDeviceClass(profile, cmsSigLinkClass);
  cmsSetColorSpace(profile, cmsSigRgbData);
  cmsSetPCS(profile, cmsSigRgbData);
  cmsWriteTag(profile, sixteen ? cmsSigAToB0Tag : cmsSigDToB0Tag, pipeline);
  const cmsUInt32Number type = sixteen ? TYPE_RGB_16 : TYPE_RGB_FLT;
  cmsHTRANSFORM transform =
      cmsCreateTransform(profile, type, nullptr, type, INTENT_PERCEPTUAL, cmsFLAGS_NOCACHE);
  if (transform == nullptr) return state.SkipWithError("no transform");
  const std::size_t n = Scene().pixels();
  std::vector<float> in_float(sixteen ? 0 : 3 * n), out_float(sixteen ? 0 : 3 * n), ours(4 * kWidth);
  std::vector<std::uint16_t> in16(sixteen ? 3 * n : 0), out16(sixteen ? 3 * n : 0);
  for (std::size_t i = 0; i < 3 * n; ++i) {
    const double t = std::clamp((std::log2(std::max(1e-9, 1.0 * Scene().data()[i])) + 12) / 16, 0.0, 1.0);
    if (sixteen)
      in16[i] = static_cast<std::uint16_t>(std::lround(65535 * t));
    else
      in_float[i] = static_cast<float>(t);
  }
  const auto run_theirs = [&] {
    if (sixteen)
      cmsDoTransform(transform, in16.data(), out16.data(), static_cast<cmsUInt32Number>(n));
    else
      cmsDoTransform(transform, in_float.data(), out_float.data(), static_cast<cmsUInt32Number>(n));
  };
  run_theirs();
  for (std::size_t i = 0; i < n; i += 99991) {
    Vec3 p{};
    for (int c = 0; c < 3; ++c) p[c] = x(sixteen ? in16[3 * i + c] / 65535.0 : in_float[3 * i + c]);
    const Vec3 exact = Exact(resolved, color::Space::kSrgb, p);
    for (int c = 0; c < 3; ++c) {
      const double v = sixteen ? out16[3 * i + c] / 65535.0 : out_float[3 * i + c];
      if (!(std::abs(v - exact[c]) < 0.05)) return state.SkipWithError("their output is off");
    }
  }
  double best_ours = 1e9, best_theirs = 1e9;
  for (auto _ : state) {
    double t = Now();
    run_theirs();
    best_theirs = std::min(best_theirs, Now() - t);
    t = Now();
    for (int y = 0; y < kHeight; ++y) Lookup(baked, Scene().row(y), kWidth, ours.data());
    best_ours = std::min(best_ours, Now() - t);
  }
  state.counters["MP/s"] = n / best_ours / 1e6;
  state.counters["their MP/s"] = n / best_theirs / 1e6;
  state.counters["ratio"] = best_theirs / best_ours;
  cmsDeleteTransform(transform);
  cmsPipelineFree(pipeline);
  cmsCloseProfile(profile);
}
BENCHMARK(AgainstLittleCms)->Arg(32)->Arg(16)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::render
