// What the benchmarks of whole deliveries share: a session to deliver, and its stages timed alone.
#pragma once

#include <cstdio>

#include <sys/resource.h>
#include <unistd.h>

#include <atomic>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include <benchmark/benchmark.h>

#include "base/file.h"
#include "base/hash.h"
#include "base/task_pool.h"
#include "codec/peers_testing.h"
#include "codec/read.h"
#include "codec/write.h"
#include "job/grain_stage.h"
#include "job/stages.h"
#include "job/trait_store.h"
#include "render/grain.h"
#include "render/render.h"

namespace samelight::job::bench {

using codec::peers::kHeight;
using codec::peers::kWidth;

inline double Wall() {
  timespec t{};
  clock_gettime(CLOCK_MONOTONIC, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
// Of all threads: what a busy machine does not spoil.
inline double Processor() {
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

// A folder with a session of `frames` pictures digital/P100.ENDING and so on, of `kinds` of file contents in
// turn, and the film of an invented roll. Goes away with the object.
class Delivery {
 public:
  using Contents = std::vector<std::uint8_t>;
  Delivery(int frames, const std::string& ending, std::vector<Contents> kinds,
           const record::Correction& correction, record::Encoding encoding);
  ~Delivery() {
    std::error_code ignored;
    fs::remove_all(folder_, ignored);
  }
  Delivery(const Delivery&) = delete;
  Delivery& operator=(const Delivery&) = delete;

  bool sound() const { return sound_; }
  const Contents& Kind(std::size_t frame) const { return kinds_[frame % kinds_.size()]; }
  std::size_t frames() const { return photos_.size(); }
  // Times whole deliveries and, alone, what they are made of: `decode` of a file by the bare library (false:
  // failed), the chain of colours (and, with `film`, acutance and grain) on pictures in memory, bare encoding
  // of our own pixels; the same threads, the same run. Says so when the delivered pixels are not the chain's.
  void HoldAgainstStages(benchmark::State& state, bool film,
                         const std::function<bool(const Contents&)>& decode) const;

 private:
  void AddFilm(session::Session& session);
  render::RenderOptions OptionsOf(std::size_t frame, bool film) const;
  // Delivers everything anew; how many files were written.
  int Run(bool film) const;
  // Whether the first delivered file holds what bare encoding makes of `pixels`.
  bool Delivered(const image::RgbU8& pixels) const;

  fs::path folder_;
  std::vector<Contents> kinds_;
  record::Correction correction_;
  std::vector<record::Photo> photos_;
  FilmTraits film_;
  bool sound_ = true;
};

inline Delivery::Delivery(int frames, const std::string& ending, std::vector<Contents> kinds,
                          const record::Correction& correction, record::Encoding encoding)
    : kinds_(std::move(kinds)), correction_(correction) {
  std::string pattern = (fs::temp_directory_path() / "samelight-bench-XXXXXX").string();
  folder_ = fs::canonical(::mkdtemp(pattern.data()));
  auto session = session::Session::Open(folder_ / "a.samelight", session::Access::kCreate);
  auto change = (*session)->Begin();
  fs::create_directories(folder_ / "digital");
  session::MatchResult match;
  for (int i = 0; i < frames; ++i) {
    const Contents& bytes = Kind(static_cast<std::size_t>(i));
    record::Photo photo;
    photo.encoding = encoding;
    photo.path = "digital/P" + std::to_string(100 + i) + ending;
    sound_ = sound_ && WriteFileWhole(folder_ / photo.path, bytes).ok();
    ContentHash hash;
    hash.Add(bytes.data(), bytes.size());
    photo.hash = hash.Hex();
    photo.width_px = kWidth;
    photo.height_px = kHeight;
    photo.bytes = bytes.size();
    sound_ = sound_ && change->Put(photo).ok();
    record::FrameSolution solution;
    solution.correction = correction;
    solution.frame = solution.correction.frame = photo.id;
    match.frames.push_back(solution);
    photos_.push_back(photo);
  }
  record::Roll roll;
  roll.name = "roll 1";
  sound_ = sound_ && change->Put(roll).ok();
  record::Photo scan;
  scan.role = record::Role::kScan;
  scan.roll = roll.id;
  scan.path = "film/s1.tif";
  scan.hash = "0123456789abcdef";
  scan.width_px = kWidth;
  scan.height_px = kHeight;
  sound_ = sound_ && change->Put(scan).ok();
  session::PairResult pairs;
  pairs.pairs.push_back({scan.id, photos_[0].id, record::PairKind::kMoment, 0.9, false, {}});
  sound_ =
      sound_ && change->ReplacePairs(pairs).ok() && change->ReplaceMatch(match).ok() && change->Commit().ok();
  AddFilm(**session);
}

// The session is as an earlier delivery leaves it: what that measured on the scans lies in the session's
// cache, since a session's film is measured once. Invented film: granularity 6, clumps of 12 um; scans whose
// edges are half as strong again at the finest detail.
inline void Delivery::AddFilm(session::Session& session) {
  film_.grain = render::FilmGrain(6, 12, 36);
  film_.grain.patches = 1000;
  render::Acutance acutance;
  acutance.long_side_px = kWidth;
  for (int k = 0; k < render::Edge::kBins; ++k) {
    acutance.ratio[static_cast<std::size_t>(k)] = render::SharpenResponse(0.5, 1, k / 32.0);
    acutance.weight[static_cast<std::size_t>(k)] = 400;
  }
  film_.acutance[record::SourceName(photos_[0])] = acutance;
  const Result<Goods> goods = GoodsOf(session);
  if (!goods.ok()) return void(sound_ = false);
  const Result<TraitPlan> plan = PlanTraits(session, *goods, record::Order{});
  if (!plan.ok()) return void(sound_ = false);
  fs::create_directories(session.cache_folder());
  KeepTraits(session.cache_folder() / ("film-" + plan->traits), film_);
}

inline render::RenderOptions Delivery::OptionsOf(std::size_t frame, bool film) const {
  render::RenderOptions options;
  if (!film) return options;
  const record::Photo& photo = photos_[frame];
  options.acutance = render::SharpeningFor(film_.acutance.at(record::SourceName(photo)), kWidth);
  options.grain.on = true;
  options.grain.model = film_.grain;
  options.grain.seed = GrainSeed(photo);
  return options;
}

inline int Delivery::Run(bool film) const {
  fs::remove_all(folder_ / "out");
  auto session = session::Session::Open(folder_ / "a.samelight", session::Access::kWrite);
  SilentProgress silent;
  DeliverOptions options;
  options.again = true;
  record::Order order;
  order.grain = order.acutance = film;
  std::vector<session::Problem> problems;
  auto answer = DeliverAll(**session, folder_ / "out", order, options, problems, {silent, Cancel()});
  return answer.ok() && problems.empty() && answer->notes.empty() ? answer->written : 0;
}

inline bool Delivery::Delivered(const image::RgbU8& pixels) const {
  std::vector<std::uint8_t> ours, bare;
  const auto bytes = ReadFile(folder_ / "out" / "P100.jpg", 1u << 30);
  if (!bytes.ok()) return false;
  codec::peers::DecodeJpeg(*bytes, ours);
  codec::peers::DecodeJpeg(codec::peers::EncodeJpeg(pixels), bare);
  return ours == bare;
}

inline int Frames(int usual) {
  const char* wish = std::getenv("SAMELIGHT_BENCH_FRAMES");
  return wish != nullptr ? std::max(2, std::atoi(wish)) : usual;
}

inline double PeakMib() {
  rusage usage{};
  ::getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

inline void Delivery::HoldAgainstStages(benchmark::State& state, bool film,
                                        const std::function<bool(const Contents&)>& decode) const {
  if (!sound_) return state.SkipWithError("the session could not be made");
  bool sound = true;
  const auto each = [&](const std::function<bool(std::size_t)>& work) {
    std::atomic<int> bad = 0;
    const Cost cost =
        Timed([&] { ParallelFor(frames(), Cancel(), [&](std::size_t i) { bad += work(i) ? 0 : 1; }); });
    sound = sound && bad == 0;
    return cost;
  };
  for (auto _ : state) {
    const Cost decoding = each([&](std::size_t i) { return decode(Kind(i)); });
    std::vector<image::RgbF> linear;
    std::vector<image::RgbU8> pixels(kinds_.size());
    for (std::size_t i = 0; i < kinds_.size(); ++i) {
      linear.push_back(codec::ReadPicture(folder_ / photos_[i].path)->pixels);
      sound = sound && render::Render(linear[i], correction_, OptionsOf(i, film), pixels[i]).ok();
    }
    const Cost chain = each([&](std::size_t i) {
      static thread_local image::RgbU8 out;
      return render::Render(linear[i % linear.size()], correction_, OptionsOf(i, film), out).ok();
    });
    linear.clear();
    const Cost encoding =
        each([&](std::size_t i) { return !codec::peers::EncodeJpeg(pixels[i % pixels.size()]).empty(); });
    int written = 0;
    const Cost deliver = Timed([&] { written = Run(film); });
    // Grain included, pixel by pixel: the settings of the bare encoder are ours.
    sound = sound && written == static_cast<int>(frames()) && Delivered(pixels[0]);
    const auto over = [&](double Cost::*kind, bool with_chain) {
      return deliver.*kind / (decoding.*kind + (with_chain ? chain.*kind : 0) + encoding.*kind);
    };
    state.counters["frames"] = static_cast<double>(frames());
    state.counters["threads"] = Workers();
    state.counters["bits_per_pixel"] = 8.0 * static_cast<double>(Kind(0).size()) / kWidth / kHeight;
    state.counters["deliver_s"] = deliver.wall_s;
    state.counters["decode_s"] = decoding.wall_s;
    state.counters["chain_s"] = chain.wall_s;
    state.counters["encode_s"] = encoding.wall_s;
    state.counters["ratio_wall"] = over(&Cost::wall_s, true);
    state.counters["ratio_cpu"] = over(&Cost::cpu_s, true);
    state.counters["ratio_without_chain"] = over(&Cost::wall_s, false);
    state.counters["peak_MiB"] = PeakMib();
  }
  if (!sound) state.SkipWithError("the output is not what the stages give");
}

}  // namespace samelight::job::bench
