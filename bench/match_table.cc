// The main job against the simulator's truth, beside published baselines, in one run on the same pictures.
// docs/benchmarks.md tells how to use it and how to read it.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>

#include "base/file.h"
#include "base/task_pool.h"
#include "bench/baselines.h"
#include "bench/designs.h"
#include "bench/earlier.h"
#include "bench/perturb.h"
#include "bench/pictures.h"
#include "bench/references.h"
#include "bench/refit.h"
#include "bench/resolve.h"
#include "bench/self_check.h"
#include "bench/table.h"
#include "color/difference.h"
#include "job/job.h"
#include "look/evaluate.h"
#include "simulate/session.h"
#include "solve/left_over.h"

namespace samelight::bench {
namespace {

struct Options {
  std::vector<std::string> inputs;
  std::vector<std::uint64_t> seeds;
  std::string work = "build/match-table";
  std::string json;
  std::vector<fs::path> earlier;
  std::vector<solve::Solution::Taught> lessons;  // of these
  bool solve_only = false, robust = false, designs = false, fresh = false, each = false, fast = false;
  int worst = 8;
  simulate::SessionOptions demo;
};

class Clock {
 public:
  double Seconds() const {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
  }

 private:
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

void Say(const std::string& text) { fmt::print(stderr, "{}\n", text); }

std::vector<FrameFact> FactsOf(const Truth& truth) {
  std::vector<FrameFact> facts;
  for (const TrueFrame& f : truth.frames) {
    const bool film = truth.Filmed(f.light);
    facts.push_back(
        {f.file, f.light,
         f.jpeg ? (film ? Group::kJpegFilm : Group::kJpegNoFilm) : (film ? Group::kFilm : Group::kNoFilm)});
  }
  return facts;
}

// Scores of one way to make a shown picture (CIELAB) of every frame.
template <class F>
std::vector<FrameScore> ScoreEach(const Pictures& pictures, F&& lab_of_frame) {
  std::vector<FrameScore> scores(pictures.frames.size());
  ParallelFor(scores.size(), {}, [&](std::size_t i) {
    const FramePicture& frame = pictures.frames[i];
    scores[i] = Compare(lab_of_frame(i), frame.truth, frame.skin);
  });
  return scores;
}

// Mean CIEDE2000 between what two corrections make of a picture.
double MeanMove(const image::RgbF& linear, const record::Correction& a, const record::Correction& b) {
  const look::Resolved one = look::Resolve(a), other = look::Resolve(b);
  double sum = 0;
  int count = 0;
  for (std::size_t i = 0; i < linear.pixels(); i += 101, ++count) {
    const float* p = linear.data().data() + 3 * i;
    const Vec3 pixel{p[0], p[1], p[2]};
    sum += color::Ciede2000(solve::LabOfDisplay(look::Evaluate(one, pixel)),
                            solve::LabOfDisplay(look::Evaluate(other, pixel)));
  }
  return sum / std::max(1, count);
}

class Sheet {
 public:
  Sheet(const Truth& truth, const Pictures& pictures, std::string name) : truth_(truth), pictures_(pictures) {
    table_.name = std::move(name);
    table_.facts = FactsOf(truth);
    for (const FramePicture& frame : pictures.frames)
      table_.skin_labelled = table_.skin_labelled || !frame.skin.empty();
    std::vector<double> nudges, told;
    for (std::size_t i = 0; i < pictures.scans.size(); ++i) {
      nudges.push_back(Compare(LabOfLinear(pictures.scans[i].linear), pictures.scans[i].truth, {}).mean);
      told.push_back(truth.scans[i].nudge_de);
    }
    table_.nudge_median = Median(nudges);
    table_.nudge_simulator = Median(told);
    untouched_ = ScoreEach(pictures, [&](std::size_t i) {
      return LabOfShown(Untouched(pictures.frames[i].linear, pictures.frames[i].scene_referred));
    });
    Add("untouched", Row::Kind::kUntouched, untouched_);
  }

  void Add(const std::string& name, Row::Kind kind, std::vector<FrameScore> scores, double flagged = kNone) {
    table_.rows.push_back({name, kind,
                           Summarise(scores, table_.facts,
                                     kind == Row::Kind::kUntouched ? std::vector<FrameScore>() : untouched_),
                           std::move(scores), flagged});
  }

  void AddBaselines() {
    std::vector<bool> usable;
    for (const ScanPicture& scan : pictures_.scans) usable.push_back(!scan.grey);
    std::vector<image::RgbF> scans(pictures_.scans.size());
    for (std::size_t i = 0; i < scans.size(); ++i) scans[i] = ShownSrgb(pictures_.scans[i].linear);
    const auto add = [&](const std::string& name, auto&& transfer) {
      Add(name, Row::Kind::kBaseline, ScoreEach(pictures_, [&](std::size_t i) {
            const FramePicture& frame = pictures_.frames[i];
            const image::RgbF source = Untouched(frame.linear, frame.scene_referred);
            const int scan = GivenScan(truth_, usable, static_cast<int>(i));
            return LabOfShown(scan < 0 ? source : transfer(source, scans[scan]));
          }));
    };
    using R = image::RgbF;
    add("mean and deviation, l-alpha-beta",
        [](const R& s, const R& t) { return MatchMeanAndDeviation(s, t, false); });
    add("the same in linear light", [](const R& s, const R& t) { return MatchMeanAndDeviation(s, t, true); });
    add("linear Monge-Kantorovich, RGB",
        [](const R& s, const R& t) { return MatchCovariance(s, t, MapSpace::kEncodedRgb); });
    add("linear Monge-Kantorovich, CIELAB",
        [](const R& s, const R& t) { return MatchCovariance(s, t, MapSpace::kLab); });
    add("histograms per channel", [](const R& s, const R& t) { return MatchHistograms(s, t); });
  }

  void AddReferences() {
    std::map<std::pair<int, std::string>, std::vector<std::size_t>> groups;
    for (std::size_t i = 0; i < pictures_.frames.size(); ++i)
      groups[{truth_.frames[i].light, pictures_.frames[i].source}].push_back(i);
    std::vector<LabF> by_light(pictures_.frames.size());
    std::vector<std::vector<std::size_t>> list;
    for (auto& [key, frames] : groups) list.push_back(frames);
    ParallelFor(list.size(), {}, [&](std::size_t k) {
      std::vector<const FramePicture*> frames;
      for (std::size_t i : list[k]) frames.push_back(&pictures_.frames[i]);
      std::vector<LabF> made = TablePerLight(frames);
      for (std::size_t i = 0; i < list[k].size(); ++i) by_light[list[k][i]] = std::move(made[i]);
    });
    Add("on truth: table per light+source, exposure", Row::Kind::kReference,
        ScoreEach(pictures_, [&](std::size_t i) { return by_light[i]; }));
    Add("on truth: table per frame", Row::Kind::kReference,
        ScoreEach(pictures_, [&](std::size_t i) { return TablePerFrame(pictures_.frames[i]); }));
  }

  Status AddStored(const StoredSession& session) {
    if (session.correction.empty()) return {};  // paired, but not yet matched
    int flagged = 0;
    table_.told.assign(table_.facts.size(), "");
    for (const auto& [frame, reasons] : session.flags) {
      if (reasons.empty()) continue;
      table_.told[frame] = reasons.front();
      ++flagged;
    }
    const double share = session.flags.empty() ? kNone : static_cast<double>(flagged) / session.flags.size();
    Add("stored corrections, at 400 px", Row::Kind::kOurs, ScoreCorrections(session.correction, pictures_),
        share);
    if (session.delivered.empty()) return {};
    AddBounds(session.correction);
    Result<std::vector<FrameScore>> delivered = ScoreDelivered(session, pictures_);
    if (!delivered.ok()) return delivered.error();
    Add("delivered", Row::Kind::kOurs, std::move(delivered).value(), share);
    return {};
  }

  Status AddSolved(const std::string& name, const StoredSession& session, const solve::Request& request,
                   Row::Kind kind = Row::Kind::kOurs) {
    Result<Resolved> solved = Resolve(session, request);
    if (!solved.ok()) return solved.error().In(name);
    Add(name, kind, ScoreCorrections(solved->correction, pictures_), solved->flagged);
    if (kind != Row::Kind::kOurs) return {};
    AddBounds(solved->correction);
    table_.solve_seconds = solved->seconds;
    table_.notes.insert(table_.notes.end(), solved->notes.begin(), solved->notes.end());
    return {};
  }

  // The same corrections with offsets from the truth: what is left is not the offsets' fault.
  void AddBounds(const std::map<int, record::Correction>& corrections) {
    for (const auto& [by, name] :
         {std::pair(RefitBy::kLight, kLightFromTruth), std::pair(RefitBy::kFrame, kFrameFromTruth)})
      Add(name, Row::Kind::kReference,
          ScoreCorrections(RefitOffsets(corrections, truth_, pictures_, by), pictures_));
  }

  // What the same session gives when its evidence is harmed, and whether that is worse than no film at all.
  Status AddHarmed(const StoredSession& session) {
    const solve::Request& r = session.request;
    const std::pair<const char*, solve::Request> harmed[] = {
        {"no film (the look's prior)", KeepScans(r, {})},
        {"cells thinned to 5 %", ThinCells(r, 0.05, 1)},
        {"20 % of cells wrong", WrongCells(r, 0.2, 2)},
        {"40 % of cells wrong", WrongCells(r, 0.4, 3)},
        {"one pair in ten wrong", WrongPairs(r, 4)},
        {"one scan in the session", OneScan(r)},
        {"two filmed lights, the extremes", TwoExtremeLights(r)},
    };
    std::vector<FrameScore> prior;
    for (const auto& [name, request] : harmed) {
      if (Status s = AddSolved(name, session, request, Row::Kind::kHarmed); !s.ok()) return s;
      const std::vector<FrameScore>& frames = table_.rows.back().frames;
      if (prior.empty()) {
        prior = frames;
        continue;
      }
      const RowScore against = Summarise(frames, table_.facts, prior);
      table_.notes.push_back(
          fmt::format("{}: worse than the look's prior on {:.0f} % of the frames, by {:.2f} at most", name,
                      100 * against.worse_share, against.worst_excess));
    }
    return AddOneScanOfEach(session, prior);
  }

  // One scan in the session, of each filmed light in turn, and what it does to the other lights.
  Status AddOneScanOfEach(const StoredSession& session, const std::vector<FrameScore>& prior) {
    const std::vector<PhotoId> scans = FullestScans(session.request);
    int lights_worse = 0, frames_worse = 0, frames = 0;
    double with = 0, without = 0;
    for (const PhotoId scan : scans) {
      Result<Resolved> solved = Resolve(session, KeepScans(session.request, {scan}));
      if (!solved.ok()) return solved.error();
      const std::vector<FrameScore> scores = ScoreCorrections(solved->correction, pictures_);
      const int own = truth_.scans[session.scan_at.at(scan)].light;
      double now = 0, before = 0;
      for (const auto& [frame, correction] : solved->correction) {
        if (truth_.frames[frame].light == own) continue;
        now += scores[frame].mean;
        before += prior[frame].mean;
        frames_worse += scores[frame].mean > prior[frame].mean ? 1 : 0;
        ++frames;
      }
      lights_worse += now > before ? 1 : 0;
      with += now;
      without += before;
    }
    if (frames > 0)
      table_.notes.push_back(fmt::format(
          "one scan in the session, of each of {} lights in turn: the other lights {:.2f} against {:.2f} by "
          "the look's prior; {} of the scans make them worse as a whole, {:.0f} % of the frames are worse",
          scans.size(), with / frames, without / frames, lights_worse, 100.0 * frames_worse / frames));
    return {};
  }

  // Plainer designs, and this one, solved again from the same evidence.
  Status AddDesigns(const StoredSession& session) {
    Result<Resolved> alone = PerPair(session, session.request);
    if (!alone.ok()) return alone.error();
    Add("design a: each pair fitted by itself", Row::Kind::kDesign,
        ScoreCorrections(alone->correction, pictures_));
    if (Status s = AddSolved("design b: one look, exposures from EXIF", session,
                             WithoutGraph(session.request), Row::Kind::kDesign);
        !s.ok())
      return s;
    return AddSolved("design c: one look, exposures from matches", session, session.request,
                     Row::Kind::kDesign);
  }

  // The session with one scan and without any, and all three with what other sessions taught of its film.
  Status AddWithLook(const StoredSession& session, const record::LearnedLook& look) {
    const solve::Request& r = session.request;
    const std::pair<std::string, solve::Request> kept[] = {{"no film (the look's prior)", KeepScans(r, {})},
                                                           {"one scan in the session", OneScan(r)},
                                                           {"all scans", r}};
    for (const auto& [name, request] : kept) {
      const bool there = std::any_of(table_.rows.begin(), table_.rows.end(),
                                     [&, n = name](const Row& row) { return row.name == n; });
      Status added;
      if (!there) added = AddSolved(name, session, request, Row::Kind::kHarmed);
      solve::Request with = request;
      with.earlier = look;
      if (added.ok()) added = AddSolved(name + ", earlier look", session, with, Row::Kind::kHarmed);
      if (!added.ok()) return added;
    }
    table_.notes.push_back(
        fmt::format("look of '{}' from {} other sessions; spread between them {:.2f} of the look's "
                    "built-in one, {:.2f} of the rule's",
                    look.stock, look.lessons.size(), look.look_between, look.rule_between));
    return {};
  }

  // How far the frames move when one scan is taken out, over all scans in turn.
  Status AddOneOut(const StoredSession& session, const solve::Request& request) {
    Result<Resolved> whole = Resolve(session, request);
    if (!whole.ok()) return whole.error();
    std::vector<PhotoId> scans;
    for (const record::Pair& pair : request.pairs)
      if (pair.kind != record::PairKind::kNone) scans.push_back(pair.scan);
    std::vector<double> moves;
    for (const PhotoId out : scans) {
      std::vector<PhotoId> rest;
      for (const PhotoId s : scans)
        if (!(s == out)) rest.push_back(s);
      Result<Resolved> without = Resolve(session, KeepScans(request, rest));
      if (!without.ok()) return without.error();
      double sum = 0;
      for (const auto& [frame, correction] : whole->correction)
        sum += MeanMove(pictures_.frames[frame].linear, correction, without->correction.at(frame));
      moves.push_back(sum / static_cast<double>(whole->correction.size()));
    }
    double mean = 0, most = 0;
    for (double m : moves) {
      mean += m / static_cast<double>(moves.size());
      most = std::max(most, m);
    }
    if (!moves.empty())
      table_.notes.push_back(fmt::format(
          "taking one scan out moves the frames by {:.2f} on average, by {:.2f} for the scan that "
          "moves them most (CIEDE2000)",
          mean, most));
    return {};
  }

  void SetPairs(const PairCount& pairs) {
    table_.pairs = pairs;
    table_.has_pairs = true;
  }
  SessionTable Take() { return std::move(table_); }

 private:
  const Truth& truth_;
  const Pictures& pictures_;
  SessionTable table_;
  std::vector<FrameScore> untouched_;
};

Result<SessionTable> OneSession(const fs::path& file, const Options& options) {
  const Clock clock;
  Result<StoredSession> session = ReadSession(file);
  if (!session.ok()) return session.error();
  const Truth& truth = session->truth;
  const fs::path cache = truth.folder / "bench-cache";
  Result<Pictures> pictures = LoadPictures(truth, cache, options.solve_only && !options.fresh);
  if (!pictures.ok()) return pictures.error();
  std::vector<std::string> wrong = CheckRegistration(truth, *pictures, 6);
  if (!wrong.empty())
    return Error{ErrorCode::kInternal, wrong.front(), file.string(), "the numbers would mean nothing"};
  Say(fmt::format("{}: pictures ready after {:.1f} s", truth.folder.string(), clock.Seconds()));

  Sheet sheet(truth, *pictures, truth.folder.string());
  sheet.SetPairs(session->pairs);
  if (options.solve_only) {
    if (Status s = sheet.AddStored({truth, {}, {}, {}, {}, session->correction, session->flags, {}}); !s.ok())
      return s.error();
    if (Status s = sheet.AddSolved("solved again", *session, session->request); !s.ok()) return s.error();
  } else {
    sheet.AddBaselines();
    sheet.AddReferences();
    if (Status s = sheet.AddStored(*session); !s.ok()) return s.error();
  }
  if (options.designs)
    if (Status s = sheet.AddDesigns(*session); !s.ok()) return s.error();
  if (options.robust)
    for (Status s : {sheet.AddHarmed(*session), sheet.AddOneOut(*session, session->request)})
      if (!s.ok()) return s.error();
  if (const auto look = LookFor(truth, options.lessons))
    if (Status s = sheet.AddWithLook(*session, *look); !s.ok()) return s.error();
  Say(fmt::format("{}: scored after {:.1f} s", truth.folder.string(), clock.Seconds()));
  return sheet.Take();
}

// Baselines and references alone, for a demo folder that was not matched.
Result<SessionTable> TruthOnly(const fs::path& folder) {
  Result<Truth> truth = ReadTruth(folder);
  if (!truth.ok()) return truth.error();
  Result<Pictures> pictures = LoadPictures(*truth, folder / "bench-cache", false);
  if (!pictures.ok()) return pictures.error();
  std::vector<std::string> wrong = CheckRegistration(*truth, *pictures, 6);
  if (!wrong.empty())
    return Error{ErrorCode::kInternal, wrong.front(), folder.string(), "the numbers would mean nothing"};
  Sheet sheet(*truth, *pictures, folder.string());
  sheet.AddBaselines();
  sheet.AddReferences();
  return sheet.Take();
}

// The demo's session file below `folder`, made by the whole main job where it is not there yet.
Result<fs::path> MatchedSession(const fs::path& folder, const Options& options) {
  const fs::path out = folder / "bench-out", file = out / "session.samelight";
  if (fs::exists(file) && !options.fresh) return file;
  Say(fmt::format("{}: running the main job", folder.string()));
  SilentProgress silent;
  job::RunRequest request;
  request.film = {folder / "film"};
  request.digital = {folder / "digital"};
  request.out = out;
  request.options.fields = {{"format", "tiff16"}, {"grain", "off"}};
  request.options.again = options.fresh;
  const Clock clock;
  Result<job::RunAnswer> answer = job::Run(request, {silent, {}});
  if (!answer.ok()) return answer.error();
  for (const job::Problem& problem : answer->problems)
    Say(fmt::format("  {}: {} ({})", problem.file, problem.what, problem.why));
  Say(fmt::format("{}: delivered after {:.1f} s", folder.string(), clock.Seconds()));
  return file;
}

// Part of a folder's name, so that sessions of one seed but of other kinds stand apart.
std::string KindOf(const simulate::SessionOptions& demo) {
  std::string kind = demo.world == simulate::World::kUnseen ? "-unseen" : "";
  if (demo.flare) kind += "-flare";
  if (demo.flash) kind += "-flash";
  if (demo.mixed_light) kind += "-mixed";
  if (demo.pushed_roll) kind += "-pushed";
  return kind;
}

Result<std::vector<SessionTable>> Work(const Options& options) {
  std::vector<fs::path> inputs(options.inputs.begin(), options.inputs.end());
  for (std::uint64_t seed : options.seeds) {
    const fs::path folder = fs::path(options.work) / (fmt::format("seed-{}", seed) + KindOf(options.demo));
    if (!fs::exists(folder / "truth/truth.json")) {
      Say(fmt::format("{}: writing the demo session", folder.string()));
      simulate::SessionOptions demo = options.demo;
      demo.seed = seed;
      demo.photographs = simulate::FindPhotographs();
      SilentProgress silent;
      Result<simulate::SessionSummary> written = simulate::WriteSession(folder, demo, silent, {});
      if (!written.ok()) return written.error();
    }
    inputs.push_back(folder);
  }
  std::vector<SessionTable> tables;
  for (const fs::path& input : inputs) {
    Result<SessionTable> table = [&]() -> Result<SessionTable> {
      if (fs::is_regular_file(input)) return OneSession(input, options);
      if (fs::exists(input / "session.samelight")) return OneSession(input / "session.samelight", options);
      if (options.fast) return TruthOnly(input);
      Result<fs::path> file = MatchedSession(input, options);
      if (!file.ok()) return file.error();
      return OneSession(*file, options);
    }();
    if (!table.ok()) return table.error();
    tables.push_back(std::move(table).value());
  }
  return tables;
}

int Main(int argc, char** argv) {
  Options options;
  CLI::App app{"Scores the main job against the truth of simulated sessions, beside published baselines."};
  app.add_option(
      "input", options.inputs,
      "demo folders (matched when they are not yet), output folders of `samelight run`, or session files");
  app.add_option("--seed", options.seeds,
                 "write the demo of this seed below --work first, where it is not there yet");
  app.add_option("--work", options.work, "folder for what --seed writes")->capture_default_str();
  app.add_flag("--solve-only", options.solve_only,
               "solve again from the stored pairs and score that on the reduced pictures; no baselines");
  app.add_flag("--designs", options.designs,
               "add rows of plainer designs: each pair by itself, and without matches between frames");
  app.add_flag("--robust", options.robust, "add rows in which the evidence is harmed");
  app.add_option("--earlier", options.earlier,
                 "session files that were matched: looks learned from them are tried on the others")
      ->allow_extra_args(false);
  app.add_flag("--baselines-only", options.fast, "score demo folders without matching them");
  app.add_flag("--fresh", options.fresh, "match and reduce again what is kept from an earlier run");
  app.add_flag("--each", options.each, "print the table of every session, not only the medians");
  app.add_option("--worst", options.worst, "how many of the largest errors are listed per session")
      ->capture_default_str();
  app.add_option("--json", options.json, "write everything, down to the single frame, to this file");
  app.add_option(
         "--film-seed", options.demo.film_seed,
         "stocks and lab of another seed: with one --film-seed, sessions of several --seed come from one lab")
      ->capture_default_str();
  app.add_flag_callback(
      "--unseen", [&] { options.demo.world = simulate::World::kUnseen; },
      "demos of stocks, cameras, lights and a lab that are kept apart from tuning");
  app.add_flag("--flare", options.demo.flare, "demos with veiling light in the frames");
  app.add_flag("--flash", options.demo.flash, "demos in which a flash fires on some frames in dim light");
  app.add_flag("--mixed", options.demo.mixed_light, "demos with daylight and lamps mixed indoors");
  app.add_flag("--pushed", options.demo.pushed_roll, "demos whose last roll was pushed by a stop");
  app.add_flag_callback(
      "--hard",
      [&] {
        options.demo.flare = options.demo.flash = options.demo.mixed_light = options.demo.pushed_roll = true;
      },
      "demos with all four of these");
  app.add_option("--frames", options.demo.frames, "of a demo that is written")->capture_default_str();
  app.add_option("--scans", options.demo.scans, "of a demo that is written")->capture_default_str();
  app.add_option("--lights", options.demo.lights, "of a demo that is written")->capture_default_str();
  app.add_option("--size", options.demo.frame_long_side_px, "long side of its frames, px")
      ->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  if (options.inputs.empty() && options.seeds.empty()) {
    fmt::print("{}", app.help());
    return 2;
  }
  const std::vector<std::string> wrong = SelfCheck();
  for (const std::string& finding : wrong) Say("self check: " + finding);
  if (!wrong.empty()) return 1;
  Result<std::vector<solve::Solution::Taught>> lessons = LessonsOf(options.earlier);
  if (!lessons.ok()) {
    Say(lessons.error().Text());
    return 1;
  }
  options.lessons = std::move(lessons).value();
  Result<std::vector<SessionTable>> tables = Work(options);
  if (!tables.ok()) {
    Say(tables.error().Text());
    return 1;
  }
  fmt::print("{}", TextOf(*tables, options.each, options.worst));
  if (!options.json.empty())
    if (Status written = WriteFileWhole(options.json, JsonOf(*tables)); !written.ok()) {
      Say(written.error().Text());
      return 1;
    }
  return 0;
}

}  // namespace
}  // namespace samelight::bench

int main(int argc, char** argv) { return samelight::bench::Main(argc, argv); }
