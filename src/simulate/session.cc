#include "simulate/session.h"

#include <algorithm>
#include <cstdlib>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>

#include "base/file.h"
#include "base/task_pool.h"
#include "simulate/picture_writer.h"
#include "simulate/studio.h"

namespace samelight::simulate {
namespace fs = std::filesystem;
namespace {

using nlohmann::json;

Status MakeFolders(const fs::path& dir, const Plan& plan) {
  std::error_code failed;
  if (fs::exists(dir / "truth", failed))
    return Error{ErrorCode::kInvalidArgument, "the folder already holds a demo session", dir.string(),
                 "choose another folder, or remove it first"};
  std::vector<fs::path> folders;
  for (const char* body : {"body-1", "body-2"}) {
    folders.push_back(dir / "digital" / body);
    folders.push_back(dir / "truth/frames" / body);
    folders.push_back(dir / "truth/skin" / body);
  }
  for (const auto& roll : plan.rolls) {
    folders.push_back(dir / "film" / roll.name);
    folders.push_back(dir / "truth/scans" / roll.name);
  }
  for (const auto& folder : folders) {
    fs::create_directories(folder, failed);
    if (failed) return ErrorFromErrno(failed.value(), "create", folder);
  }
  return {};
}

// One lab develops and scans everything; it sets its scanner for each stock, and for a push.
class Labs {
 public:
  Labs(const std::vector<Stock>& stocks, std::uint64_t seed, World world)
      : stocks_(stocks), seed_(seed), world_(world) {}
  const Lab& For(int stock, double push_ev) {
    const auto key = std::pair(stock, push_ev);
    auto found = labs_.find(key);
    if (found == labs_.end()) found = labs_.emplace(key, Lab(stocks_[stock], seed_, push_ev, world_)).first;
    return found->second;
  }

 private:
  const std::vector<Stock>& stocks_;
  std::uint64_t seed_;
  World world_;
  std::map<std::pair<int, double>, Lab> labs_;
};

LabSetting Mean(const std::vector<LabSetting>& settings) {
  LabSetting mean;
  mean.contrast = 0;
  const double share = 1.0 / static_cast<double>(settings.size());
  for (const auto& s : settings) {
    mean.contrast += share * s.contrast;
    for (int c = 0; c < 3; ++c) {
      mean.shift[c] += share * s.shift[c];
      mean.black[c] += share * s.black[c];
    }
  }
  return mean;
}

json FrameTruth(const Plan& plan, int index, const FrameFacts& facts, const Stock& stock,
                const std::string& body) {
  const PlannedFrame& frame = plan.frames[index];
  const Moment& moment = plan.moments[frame.moment];
  json truth{{"frame", frame.file},
             {"truth", facts.truth},
             {"light", moment.light},
             {"moment", frame.moment},
             {"stock", stock.name},
             {"source", body + (frame.jpeg ? " jpeg" : " raw")},
             {"exposure_ev", frame.exposure_ev},
             {"brighter_ev", moment.brighter_ev},
             {"flash", frame.flash},
             {"as_shot_neutral", facts.as_shot_neutral},
             {"true_neutral", facts.true_neutral}};
  if (!facts.skin.empty()) truth["skin"] = facts.skin;
  return truth;
}

json ScanTruth(const Plan& plan, int index, const ScanFacts& facts, const Stock& stock) {
  const PlannedScan& scan = plan.scans[index];
  const int light = plan.moments[scan.moment].light;
  json moment_frames = json::array(), light_frames = json::array();
  for (const auto& frame : plan.frames) {
    if (frame.moment == scan.moment && scan.other_people < 0) moment_frames.push_back(frame.file);
    if (plan.moments[frame.moment].light == light) light_frames.push_back(frame.file);
  }
  const char* kind = !moment_frames.empty() ? "moment" : !light_frames.empty() ? "light" : "none";
  return {{"scan", scan.file},
          {"truth", facts.truth},
          {"light", light},
          {"moment", scan.moment},
          {"kind", kind},
          {"roll", plan.rolls[scan.roll].name},
          {"position", scan.position},
          {"stock", stock.name},
          {"black_and_white", stock.black_and_white},
          {"push_ev", plan.rolls[scan.roll].push_ev},
          {"exposure_error_ev", scan.exposure_error_ev},
          {"mirrored", scan.mirrored},
          {"other_people", scan.other_people >= 0},
          {"nudge_de", facts.nudge_de},
          {"moment_frames", moment_frames},
          {"light_frames", light_frames}};
}

}  // namespace

Result<SessionSummary> WriteSession(const fs::path& dir, const SessionOptions& options, Progress& progress,
                                    const Cancel& cancel) {
  auto made = MakePlan(options);
  if (!made.ok()) return made.error();
  const Plan& plan = *made;
  if (Status status = MakeFolders(dir, plan); !status.ok()) return status.error();

  Camera cameras[2] = {MakeCamera(plan.cameras[0], options.seed), MakeCamera(plan.cameras[1], options.seed)};
  if (options.vignetting) {
    cameras[0].vignetting_ev = 0.7;
    cameras[1].vignetting_ev = 1.1;
  }
  const std::uint64_t film_seed = options.film_seed == 0 ? options.seed : options.film_seed;
  const auto stocks = MakeStocks(film_seed, options.world);
  Labs labs(stocks, film_seed, options.world);

  SessionSummary summary;
  summary.frames = static_cast<int>(plan.frames.size());
  summary.scans = static_cast<int>(plan.scans.size());
  std::vector<json> frame_truth(plan.frames.size()), scan_truth(plan.scans.size()), light_truth;
  std::set<int> used;
  std::mutex problem_mutex;
  std::optional<Error> problem;

  progress.Begin("writing the demo session", static_cast<long>(plan.frames.size() + plan.scans.size()));
  for (int l = 0; l < static_cast<int>(plan.lights.size()) && !problem && !cancel.requested(); ++l) {
    const Studio studio(plan, options, l, cancel);
    if (cancel.requested()) break;
    const PlannedLight& light = plan.lights[l];
    summary.lights += light.digital;
    summary.skipped += studio.skipped();
    used.insert(light.photographs.begin(), light.photographs.end());
    const Stock& stock = stocks[light.stock];
    const Lab& lab = labs.For(light.stock, 0);

    // Everything of this light: frames first, then scans.
    std::vector<int> frames, scans;
    for (int i = 0; i < summary.frames; ++i)
      if (plan.moments[plan.frames[i].moment].light == l) frames.push_back(i);
    for (int i = 0; i < summary.scans; ++i)
      if (plan.moments[plan.scans[i].moment].light == l) {
        scans.push_back(i);
        labs.For(plan.rolls[plan.scans[i].roll].stock, plan.rolls[plan.scans[i].roll].push_ev);
      }
    const std::size_t count = frames.size() + scans.size();
    light_truth.push_back({{"name", light.lighting.name},
                           {"filmed", light.filmed},
                           {"digital", light.digital},
                           {"stock", stock.name}});
    if (count == 0) continue;

    // The lab's setting for this light: the mean of what its automat says to all that was seen in it.
    std::vector<LabSetting> asked(count);
    ParallelFor(count, cancel, [&](std::size_t k) {
      if (k < frames.size()) {
        const PlannedFrame& f = plan.frames[frames[k]];
        const Moment& moment = plan.moments[f.moment];
        asked[k] = studio.Automatic(stock, lab, {&moment, moment.photograph, &f.view, f.flash}, kFrameAspect,
                                    f.portrait);
      } else {
        const PlannedScan& s = plan.scans[scans[k - frames.size()]];
        const Moment& moment = plan.moments[s.moment];
        asked[k] = studio.Automatic(stock, lab, {&moment, moment.photograph, &s.view, false},
                                    plan.rolls[s.roll].aspect, s.portrait);
      }
    });
    if (cancel.requested()) break;
    const LabSetting mean = Mean(asked);

    ParallelFor(count, cancel, [&](std::size_t k) {
      std::optional<Error> error;
      if (k < frames.size()) {
        const int i = frames[k];
        const Camera& camera = cameras[plan.frames[i].body];
        const auto facts = WriteFrame(dir, options, plan, i, camera, studio, stock, lab, mean);
        if (facts.ok())
          frame_truth[i] = FrameTruth(plan, i, *facts, stock, camera.model);
        else
          error = facts.error();
      } else {
        const int i = scans[k - frames.size()];
        const PlannedRoll& roll = plan.rolls[plan.scans[i].roll];
        const Stock& film = stocks[roll.stock];
        const bool same = roll.stock == light.stock && roll.push_ev == 0;
        const auto facts = WriteScan(dir, options, plan, i, studio, film, labs.For(roll.stock, roll.push_ev),
                                     same ? &mean : nullptr);
        if (facts.ok())
          scan_truth[i] = ScanTruth(plan, i, *facts, film);
        else
          error = facts.error();
      }
      const std::lock_guard lock(problem_mutex);
      if (error && !problem) problem = error;
      progress.Advance(1);
    });
  }
  progress.End();
  if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", dir.string(), ""};
  if (problem) return *problem;

  json truth{{"version", 1},
             {"seed", options.seed},
             {"painted", plan.IsPainted()},
             {"clock_offset_s", plan.clock_offset_s},
             {"lights", light_truth},
             {"frames", frame_truth},
             {"scans", scan_truth}};
  if (options.world == World::kUnseen) truth["unseen"] = true;
  if (Status status = WriteFileWhole(dir / "truth/truth.json", truth.dump(1) + "\n"); !status.ok())
    return status.error();
  for (const json& scan : scan_truth) summary.nudge_de += scan["nudge_de"].get<double>() / summary.scans;
  if (!plan.IsPainted()) summary.photographs = static_cast<int>(used.size()) - summary.skipped;
  return summary;
}

fs::path FindPhotographs() {
  std::error_code ignored;
  if (const char* assets = std::getenv("SAMELIGHT_ASSETS")) {
    const fs::path photos = fs::path(assets) / "photos";
    if (fs::is_directory(photos, ignored)) return photos;
  }
  fs::path at = fs::read_symlink("/proc/self/exe", ignored).parent_path();
  for (; at.has_relative_path(); at = at.parent_path())
    for (const char* place : {"assets/photos", "build/assets/photos"})
      if (fs::is_directory(at / place, ignored)) return at / place;
  return {};
}

}  // namespace samelight::simulate
