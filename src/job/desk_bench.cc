// How long a person waits at the desk, on invented sessions of 800 and 3,000 frames with a scan for every
// fifth. Wall-clock times; every figure is of work whose result is checked.
#include <benchmark/benchmark.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <map>
#include <mutex>

#include "job/desk.h"
#include "job/desk_testing.h"
#include "job/pictures.h"

namespace samelight::job {
namespace {

namespace fs = std::filesystem;
constexpr int kFrames = 800, kWidth = 1500, kHeight = 1000;

double Milliseconds() {
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

// Written once for each size.
const InventedSession& Wedding(int frames = kFrames) {
  static std::map<int, std::unique_ptr<InventedSession>> sessions;
  static const fs::path root =
      fs::temp_directory_path() / ("samelight-desk-bench-" + std::to_string(::getpid()));
  std::unique_ptr<InventedSession>& session = sessions[frames];
  if (session == nullptr) {
    const fs::path folder = root / std::to_string(frames);
    fs::create_directories(folder);
    if (sessions.size() == 1) std::atexit([] { fs::remove_all(root); });
    InventedOptions options;
    options.frames = frames;
    options.frames_per_light = 40;
    options.cells = 500;
    options.pictures = frames == kFrames ? 60 : 0;
    session = std::make_unique<InventedSession>(folder, options);
  }
  return *session;
}

std::unique_ptr<Desk> OpenDesk(int frames = kFrames) {
  auto desk = Desk::Open(Wedding(frames).file(), [] {});
  return desk.ok() ? std::move(*desk) : nullptr;
}

void Report(benchmark::State& state, std::vector<double> ms) {
  std::sort(ms.begin(), ms.end());
  state.counters["median_ms"] = ms[ms.size() / 2];
  state.counters["p95_ms"] = ms[ms.size() * 95 / 100];
  state.counters["most_ms"] = ms.back();
}

void OpenSession(benchmark::State& state) {
  const auto frames = static_cast<int>(state.range(0));
  if (!Wedding(frames).ok()) return state.SkipWithError("the session could not be written");
  std::vector<double> ms;
  for (auto _ : state) {
    const double begun = Milliseconds();
    const auto desk = OpenDesk(frames);
    ms.push_back(Milliseconds() - begun);
    if (desk == nullptr || desk->book()->frames.size() != static_cast<std::size_t>(frames) ||
        desk->book()->scans.size() < 100)
      return state.SkipWithError("not all rows are there");
  }
  Report(state, std::move(ms));
}
BENCHMARK(OpenSession)->Arg(kFrames)->Arg(3000)->UseRealTime()->Iterations(5)->Unit(benchmark::kMillisecond);

// What the interface thread spends on one word: in force, listed, handed to the writer.
void SayTouch(benchmark::State& state) {
  const auto frames = static_cast<int>(state.range(0));
  const auto desk = OpenDesk(frames);
  desk->Wait();
  desk->Poll();
  std::vector<double> ms;
  int i = 0;
  for (auto _ : state) {
    record::Handles touch;
    touch.exposure_ev = 0.01 * ++i;
    const double begun = Milliseconds();
    desk->Touch(Wedding(frames).frames()[5], touch);
    desk->Poll();
    ms.push_back(Milliseconds() - begun);
  }
  if (desk->book()->history.empty()) return state.SkipWithError("nothing was said");
  Report(state, std::move(ms));
}
BENCHMARK(SayTouch)->Arg(kFrames)->Arg(3000)->UseRealTime()->Iterations(60)->Unit(benchmark::kMillisecond);

void InstrumentsOfAFrame(benchmark::State& state) {
  const auto desk = OpenDesk();
  desk->Wait();
  desk->Poll();
  const PhotoId frame = Wedding().frames()[5];
  std::vector<double> ms;
  for (auto _ : state) {
    const double begun = Milliseconds();
    const auto correction = *desk->CorrectionOf(frame);
    const std::size_t rows = desk->Regions(frame, correction).size() + desk->Handles(frame).size() +
                             desk->Tone(frame, correction).ev.size();
    ms.push_back(Milliseconds() - begun);
    if (rows < 100) return state.SkipWithError("something is missing");
  }
  Report(state, std::move(ms));
}
BENCHMARK(InstrumentsOfAFrame)->UseRealTime()->Iterations(60)->Unit(benchmark::kMillisecond);

// A picture asked for and waited for.
class Waiter {
 public:
  Waiter()
      : pictures_([this] {
          {
            const std::lock_guard lock(mutex_);
            rung_ = true;
          }
          come_.notify_all();
        }) {}
  Pictures& pictures() { return pictures_; }
  // The first answer to `wanted`.
  MadePicture Get(const WantedPicture& wanted) {
    const std::uint64_t ticket = pictures_.Ask(wanted);
    while (true) {
      for (MadePicture& made : pictures_.Poll())
        if (made.ticket == ticket) return std::move(made);
      std::unique_lock lock(mutex_);
      come_.wait_for(lock, std::chrono::seconds(5), [this] { return rung_; });
      rung_ = false;
    }
  }

 private:
  std::mutex mutex_;
  std::condition_variable come_;
  bool rung_ = false;
  Pictures pictures_;
};

WantedPicture EaselPicture(PhotoId frame) {
  WantedPicture wanted;
  wanted.photo = frame;
  wanted.showing = Showing::kCorrected;
  wanted.width_px = kWidth;
  wanted.height_px = kHeight;
  wanted.view = preview::FitView(3000, 2000, kWidth, kHeight);
  wanted.draft = true;
  return wanted;
}

// From the change of a handle to its picture in hand; with `dot`, the solve of the dot before it.
void Drag(benchmark::State& state, bool dot) {
  const auto desk = OpenDesk();
  desk->Wait();
  desk->Poll();
  Waiter waiter;
  waiter.pictures().SetBook(desk->book());
  const PhotoId frame = Wedding().frames()[5];
  WantedPicture wanted = EaselPicture(frame);
  waiter.Get(wanted);
  const auto regions = desk->Regions(frame, *desk->CorrectionOf(frame));
  const RegionRow& skin = regions.front();
  std::vector<double> ms;
  int i = 0;
  std::vector<std::uint32_t> last;
  for (auto _ : state) {
    ++i;
    const double begun = Milliseconds();
    record::Handles touch;
    if (dot)
      touch =
          desk->MoveDot(frame, {}, skin, skin.lab_frame[1] + 0.1 * i, skin.lab_frame[2] - 0.05 * i)->touch;
    else
      touch.warmth_mired = i;
    wanted.correction = desk->CorrectionWith(frame, touch);
    const MadePicture made = waiter.Get(wanted);
    ms.push_back(Milliseconds() - begun);
    if (made.shown.width != kWidth || made.shown.argb == last)
      return state.SkipWithError("the picture did not change");
    last = made.shown.argb;
  }
  Report(state, std::move(ms));
}
BENCHMARK_CAPTURE(Drag, handle, false)->UseRealTime()->Iterations(60)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(Drag, dot, true)->UseRealTime()->Iterations(60)->Unit(benchmark::kMillisecond);

// Going to another frame: the first picture of one that was not looked at.
void FirstPicture(benchmark::State& state) {
  const auto desk = OpenDesk();
  Waiter waiter;
  waiter.pictures().SetBook(desk->book());
  std::vector<double> ms;
  std::size_t i = 0;
  for (auto _ : state) {
    const double begun = Milliseconds();
    const MadePicture made = waiter.Get(EaselPicture(Wedding().frames()[i++]));
    ms.push_back(Milliseconds() - begun);
    if (made.shown.empty()) return state.SkipWithError("no picture came");
  }
  Report(state, std::move(ms));
}
BENCHMARK(FirstPicture)->UseRealTime()->Iterations(20)->Unit(benchmark::kMillisecond);

// Thumbnails of 60 frames: made, and from the pack.
void Thumbnails(benchmark::State& state) {
  const auto desk = OpenDesk();
  std::vector<Pictures::Thumb> wanted;
  for (int i = 0; i < 60; ++i)
    wanted.push_back({Wedding().frames()[static_cast<std::size_t>(i)], Showing::kCorrected});
  std::vector<double> ms;
  const auto pack = Wedding().file().parent_path() / "invented.cache" / "thumbnails";
  for (auto _ : state) {
    state.PauseTiming();
    if (state.range(0) == 0) fs::remove(pack);
    Pictures pictures([] {});
    pictures.SetBook(desk->book());
    state.ResumeTiming();
    const double begun = Milliseconds();
    pictures.WantThumbnails(wanted);
    std::size_t there = 0;
    while (there < wanted.size()) {
      there += pictures.NewThumbnails().size();
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
    ms.push_back(Milliseconds() - begun);
  }
  state.counters["per_thumbnail_ms"] = *std::min_element(ms.begin(), ms.end()) / 60;
}
BENCHMARK(Thumbnails)->Arg(0)->Arg(1)->UseRealTime()->Iterations(2)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace samelight::job
