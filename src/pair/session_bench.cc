// Pairing at the size of a wedding: invented sessions from the simulator, scored against their truth. The
// sessions are written below the temporary folder and removed afterwards. Which seeds had a part in tuning
// stands in docs/benchmarks.md.
#include <benchmark/benchmark.h>
#include <sys/resource.h>

#include <chrono>
#include <ctime>
#include <filesystem>
#include <map>
#include <memory>
#include <set>
#include <stdexcept>

#include "base/task_pool.h"
#include "codec/read.h"
#include "measure/cache.h"
#include "measure/measure.h"
#include "pair/pairing.h"
#include "simulate/plan.h"
#include "simulate/session.h"

namespace samelight::pair {
namespace {

namespace fs = std::filesystem;
using record::PairKind;

double Now() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

struct Session {
  simulate::Plan plan;
  fs::path dir;
  std::vector<record::Photo> scans, frames;
  std::vector<measure::Cached> scan_facts, frame_facts;
  double describe_s = 0;  // time for descriptors alone, all workers together
  ~Session() {
    std::error_code ignored;
    fs::remove_all(dir, ignored);
  }
  fs::path CacheOf(PhotoId id) const { return dir / "cache" / std::to_string(id.value); }
};

void Check(bool ok, const std::string& what) {
  if (!ok) throw std::runtime_error(what);
}

void Measure(Session& s, const std::string& file, record::Photo& photo, measure::Cached& facts,
             double& describe_s) {
  codec::ReadOptions options;
  options.at_least_long_side_px = measure::kAnalysisLongSide;
  Result<codec::Picture> picture = codec::ReadPicture(s.dir / file, options);
  Check(picture.ok(), file);
  const record::Photo known = photo;
  photo = picture->photo;
  photo.id = known.id;
  photo.role = known.role;
  photo.roll = known.roll;
  photo.roll_position = known.roll_position;
  photo.path = file;
  Result<measure::MeasuredPicture> measured = measure::MeasurePicture(picture->pixels, photo, nullptr);
  Check(measured.ok(), file);
  facts.measured = std::move(measured->measured);
  facts.analysis = std::move(measured->analysis);
  const double start = Now();
  facts.features = measure::ExtractFeatures(facts.analysis);
  describe_s = Now() - start;
  Check(measure::WriteCached(s.CacheOf(photo.id), facts).ok(), "cache");
  facts.analysis = {};
}

// `flash_told`: the files say where flash fired.
std::unique_ptr<Session> Write(const simulate::SessionOptions& options, bool flash_told) {
  auto s = std::make_unique<Session>();
  s->plan = *simulate::MakePlan(options);
  s->dir = fs::temp_directory_path() / ("samelight-pair-bench-" + std::to_string(options.seed));
  fs::remove_all(s->dir);
  SilentProgress quiet;
  Check(simulate::WriteSession(s->dir, options, quiet, Cancel()).ok(), "the session could not be written");
  fs::create_directories(s->dir / "cache");
  const std::size_t scans = s->plan.scans.size(), frames = s->plan.frames.size();
  s->scans.resize(scans);
  s->scan_facts.resize(scans);
  s->frames.resize(frames);
  s->frame_facts.resize(frames);
  std::vector<double> describe_s(scans + frames);
  ParallelFor(scans + frames, Cancel(), [&](std::size_t i) {
    const bool scan = i < scans;
    record::Photo& photo = scan ? s->scans[i] : s->frames[i - scans];
    photo.id = PhotoId{static_cast<std::int64_t>(i)};
    photo.role = scan ? record::Role::kScan : record::Role::kFrame;
    if (scan) {
      photo.roll = RollId{s->plan.scans[i].roll};
      photo.roll_position = s->plan.scans[i].position;
    }
    Measure(*s, scan ? s->plan.scans[i].file : s->plan.frames[i - scans].file, photo,
            scan ? s->scan_facts[i] : s->frame_facts[i - scans], describe_s[i]);
    if (!flash_told) photo.capture.flash.reset();
  });
  for (double d : describe_s) s->describe_s += d;
  return s;
}

struct Score {
  int claimed = 0, right = 0, moments = 0, with_frame = 0, open = 0, without_frame = 0, none = 0;
  int wrong_and_sure = 0;
  double lights_f1 = 0;
};

// `frame_of_scan`: index or -1. A pair is right when it names the scan's light (its moment is counted apart).
Score Judge(const simulate::Plan& plan, const std::vector<int>& frame_of_scan,
            const std::vector<double>& confidence, const std::vector<int>& light_of_frame) {
  Score out;
  const auto light_of = [&](int moment) { return plan.moments[moment].light; };
  for (std::size_t i = 0; i < plan.scans.size(); ++i) {
    const int light = light_of(plan.scans[i].moment), frame = frame_of_scan[i];
    const bool digital = plan.lights[light].digital;
    (digital ? out.with_frame : out.without_frame) += 1;
    out.none += !digital && frame < 0;
    out.open += digital && frame < 0;
    if (frame < 0) continue;
    ++out.claimed;
    const bool right = light_of(plan.frames[frame].moment) == light;
    out.right += right;
    out.moments += plan.frames[frame].moment == plan.scans[i].moment;
    out.wrong_and_sure += !right && confidence[i] >= 0.99;
  }
  double both = 0, truth_only = 0, found_only = 0;
  for (std::size_t a = 0; a < plan.frames.size(); ++a)
    for (std::size_t b = a + 1; b < plan.frames.size(); ++b) {
      const auto &x = plan.frames[a], &y = plan.frames[b];
      const bool truth = light_of(x.moment) == light_of(y.moment) && x.flash == y.flash;
      const bool found = light_of_frame[a] == light_of_frame[b];
      both += truth && found;
      truth_only += truth && !found;
      found_only += !truth && found;
    }
  out.lights_f1 = 2 * both / (2 * both + truth_only + found_only);
  return out;
}

// The judge must give full marks to the truth and none to a shuffled answer.
void CheckJudge(const simulate::Plan& plan) {
  std::vector<int> frame(plan.scans.size(), -1), other = frame, light;
  for (const auto& f : plan.frames) light.push_back(2 * plan.moments[f.moment].light + f.flash);
  for (std::size_t i = 0; i < plan.scans.size(); ++i)
    for (std::size_t j = 0; j < plan.frames.size(); ++j) {
      const int mine = plan.moments[plan.scans[i].moment].light;
      if (plan.frames[j].moment == plan.scans[i].moment) frame[i] = static_cast<int>(j);
      if (plan.moments[plan.frames[j].moment].light != mine) other[i] = static_cast<int>(j);
    }
  const Score best = Judge(plan, frame, std::vector<double>(frame.size(), 1), light);
  const Score worst =
      Judge(plan, other, std::vector<double>(frame.size(), 1), std::vector<int>(light.size(), 0));
  Check(best.right == best.claimed && best.claimed == best.with_frame && best.none == best.without_frame &&
            best.lights_f1 == 1 && best.wrong_and_sure == 0,
        "the judge does not know the truth");
  Check(worst.right == 0 && worst.wrong_and_sure == worst.claimed && worst.lights_f1 < 0.7,
        "the judge is too mild");
}

// Frames with flash in a light that is mostly flash, and frames without in one, of all.
void CountFlash(const simulate::Plan& plan, const std::vector<int>& light_of_frame, benchmark::State& state) {
  std::map<int, std::pair<int, int>> heap;  // found light: with flash, without
  int flashed = 0, told = 0, falsely = 0;
  for (std::size_t f = 0; f < plan.frames.size(); ++f) {
    flashed += plan.frames[f].flash;
    ++(plan.frames[f].flash ? heap[light_of_frame[f]].first : heap[light_of_frame[f]].second);
  }
  for (const auto& [light, count] : heap)
    if (count.first > count.second) told += count.first, falsely += count.second;
  state.counters["flash_of"] = flashed;
  state.counters["flash_told"] = told;
  state.counters["flash_falsely"] = falsely;
}

void Run(benchmark::State& state, simulate::SessionOptions options, bool flash_told = true) {
  options.seed = static_cast<std::uint64_t>(state.range(0));
  options.photographs = simulate::FindPhotographs();
  options.truth_pictures = false;
  std::unique_ptr<Session> s;
  try {
    s = Write(options, flash_told);
    CheckJudge(s->plan);
  } catch (const std::exception& e) {
    state.SkipWithError(e.what());
    return;
  }
  Request request;
  for (std::size_t i = 0; i < s->scans.size(); ++i)
    request.scans.push_back({&s->scans[i], &s->scan_facts[i]});
  for (std::size_t i = 0; i < s->frames.size(); ++i)
    request.frames.push_back({&s->frames[i], &s->frame_facts[i]});
  request.load = [&](PhotoId id) { return measure::ReadCached(s->CacheOf(id)); };
  Result<Pairing> result = Error{};
  double cpu_s = 0;
  for (auto _ : state) {
    SilentProgress quiet;
    const std::clock_t start = std::clock();
    result = PairSession(request, quiet, Cancel());
    cpu_s = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
  }
  if (!result) {
    state.SkipWithError(result.error().Text().c_str());
    return;
  }
  const int scans = static_cast<int>(s->scans.size());
  std::vector<int> frame_of_scan, light_of_frame(s->frames.size(), -1);
  std::vector<double> confidence;
  for (const record::Pair& p : result->pairs) {
    frame_of_scan.push_back(p.kind == PairKind::kNone ? -1 : static_cast<int>(p.frame.value) - scans);
    confidence.push_back(p.confidence);
  }
  for (std::size_t l = 0; l < result->lights.size(); ++l)
    for (PhotoId id : result->lights[l].frames) light_of_frame[id.value - scans] = static_cast<int>(l);
  const Score score = Judge(s->plan, frame_of_scan, confidence, light_of_frame);
  state.counters["cpu_s"] = cpu_s;
  state.counters["precision"] = score.claimed ? static_cast<double>(score.right) / score.claimed : 1;
  state.counters["recall"] = score.with_frame ? static_cast<double>(score.right) / score.with_frame : 1;
  state.counters["unanswered"] = score.open;
  state.counters["moments"] = score.with_frame ? static_cast<double>(score.moments) / score.with_frame : 1;
  state.counters["none_of"] = score.without_frame;
  state.counters["none_found"] = score.none;
  state.counters["wrong_at_099"] = score.wrong_and_sure;
  state.counters["lights_F1"] = score.lights_f1;
  if (!flash_told) CountFlash(s->plan, light_of_frame, state);
  state.counters["describe_ms"] =
      s->describe_s / static_cast<double>(s->scans.size() + s->frames.size()) * 1e3;
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  state.counters["peak_MiB"] = static_cast<double>(usage.ru_maxrss) / 1024;
}

void Pair12x60(benchmark::State& state) {
  simulate::SessionOptions o;
  o.scans = 12;
  o.frames = 60;
  o.frame_long_side_px = 1024;
  Run(state, o);
}
// Half of the frames in dim light with flash, and no file says so.
void FlashUntold(benchmark::State& state) {
  simulate::SessionOptions o;
  o.scans = 6;
  o.frames = 72;
  o.frame_long_side_px = 1024;
  o.flash = true;
  Run(state, o, false);
}
void Pair36x800(benchmark::State& state) {
  simulate::SessionOptions o;
  o.scans = 36;
  o.frames = 800;
  o.lights = 15;
  o.alike = 5;
  o.frame_long_side_px = 480;
  Run(state, o);
}
BENCHMARK(Pair12x60)->Arg(7001)->Arg(7002)->Arg(7003)->Iterations(1)->Unit(benchmark::kSecond)->UseRealTime();
BENCHMARK(FlashUntold)->DenseRange(301, 316)->Iterations(1)->Unit(benchmark::kSecond)->UseRealTime();
BENCHMARK(Pair36x800)
    ->Arg(8002)
    ->Arg(8003)
    ->Arg(8004)
    ->Arg(9101)
    ->Arg(9102)
    ->Arg(9103)
    ->Arg(9104)
    ->Arg(9105)
    ->Arg(9106)
    ->Arg(9107)
    ->Arg(9111)
    ->Arg(9112)
    ->Arg(9113)
    ->Arg(9114)
    ->Arg(9115)
    ->Arg(9116)
    ->Arg(9117)
    ->Arg(9118)
    ->Arg(9119)
    ->Iterations(1)
    ->Unit(benchmark::kSecond)
    ->UseRealTime();

}  // namespace
}  // namespace samelight::pair
