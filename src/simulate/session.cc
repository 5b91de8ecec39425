#include "simulate/session.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdlib>
#include <map>
#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>

#include "base/file.h"
#include "base/task_pool.h"
#include "codec/dng.h"
#include "codec/write.h"
#include "color/difference.h"
#include "color/lab.h"
#include "color/space.h"
#include "image/resize.h"
#include "simulate/camera.h"
#include "simulate/film.h"
#include "simulate/lab.h"
#include "simulate/random.h"
#include "simulate/srgb.h"

namespace samelight::simulate {
namespace fs = std::filesystem;
namespace {

constexpr int kTruthLongSide = 800;
constexpr double kDimFilm = 0.4, kBrightFilm = 1.0;  // how far over the box speed film is exposed, EV

struct Size {
  int width, height;
};

Size SizeFor(double aspect, int long_side, bool portrait) {
  const Size landscape{long_side, static_cast<int>(std::lround(long_side / aspect))};
  return portrait ? Size{landscape.height, landscape.width} : landscape;
}

Lighting LightOf(const PlannedLight& light, const Moment& moment, bool flash) {
  Lighting now = light.lighting;
  now.key_share = std::clamp(now.key_share + moment.key_shift, 0.05, 0.95);
  if (flash) {
    for (std::size_t k = 0; k < now.fill.size(); ++k) now.fill[k] = 0.5 * (now.fill[k] + now.key[k]);
    now.key = Flash();
    now.sideways = false;
    now.contrast = 0.6;
    now.key_share = 0.6;
  }
  return now;
}

// Everything that is made for one light and thrown away after it.
class LightStudio {
 public:
  LightStudio(const Plan& plan, const SessionOptions& options, int light,
              std::vector<std::unique_ptr<Photograph>>& photographs, const std::vector<Stock>& stocks)
      : plan_(plan),
        options_(options),
        light_(plan.lights[light]),
        photographs_(photographs),
        stocks_(stocks) {}

  SceneView LookAt(const Moment& moment, const View& view, bool flash, Size size, double aspect) const {
    const Photograph& photograph = *photographs_[moment.photograph];
    return Look(photograph, Inside(view, photograph, aspect), LightOf(light_, moment, flash), size.width,
                size.height);
  }

  image::RgbF Expose(const Sensitivities& sees, const Moment& moment, bool flash, const SceneView& view,
                     Vec3* neutral) const {
    const SensorInLight sensor(sees, SurfacesFor(moment.photograph), LightOf(light_, moment, flash));
    if (neutral) *neutral = sensor.Neutral();
    image::RgbF out = sensor.Expose(view);
    const float brighter = static_cast<float>(std::exp2(moment.brighter_ev));
    for (float& v : out.data()) v *= brighter;
    return out;
  }

  // Exposure of the film's layers for a view, in the stock's daylight units.
  image::RgbF OnFilm(const Stock& stock, const Moment& moment, bool flash, const SceneView& view) const {
    image::RgbF exposure = Expose(stock.layers, moment, flash, view, nullptr);
    const Vec3 reference = DaylightReference(stock);
    for (std::size_t i = 0; i < exposure.pixels(); ++i)
      for (int c = 0; c < 3; ++c) exposure.data()[3 * i + c] /= static_cast<float>(reference[c]);
    return exposure;
  }

  double FilmOver() const { return light_.lighting.dim ? kDimFilm : kBrightFilm; }
  const PlannedLight& light() const { return light_; }

 private:
  const Surfaces& SurfacesFor(int photograph) const {
    const std::lock_guard lock(mutex_);
    auto& entry = surfaces_[photograph];
    if (!entry) entry = std::make_unique<Surfaces>(SurfacesOf(photographs_[photograph]->palette));
    return *entry;
  }

  const Plan& plan_;
  const SessionOptions& options_;
  const PlannedLight& light_;
  std::vector<std::unique_ptr<Photograph>>& photographs_;
  const std::vector<Stock>& stocks_;
  mutable std::mutex mutex_;
  mutable std::map<int, std::unique_ptr<Surfaces>> surfaces_;
};

LabSetting Mean(const std::vector<LabSetting>& settings) {
  LabSetting mean;
  mean.contrast = 0;
  for (const auto& s : settings) {
    mean.contrast += s.contrast / settings.size();
    for (int c = 0; c < 3; ++c) {
      mean.shift[c] += s.shift[c] / settings.size();
      mean.black[c] += s.black[c] / settings.size();
    }
  }
  return mean;
}

record::Capture CaptureOf(const Plan& plan, const PlannedFrame& frame, const Camera& camera,
                          const Lighting& light, std::uint64_t seed, double* iso) {
  Random random(seed, {0xe71f});
  record::Capture capture;
  // 15 June of an invented year, local time of the body's own clock; 1970-01-01 to 2031-06-15 is 22445 days.
  const double time = 22445.0 * 86400 + frame.time_s + (frame.body == 1 ? plan.clock_offset_s : 0);
  capture.time_us = static_cast<std::int64_t>(std::llround(time * 100)) * 10000;
  const double level = light.level_ev;
  *iso = level > -1 ? 100 : level > -3 ? 200 : level > -5 ? 800 : level > -7.2 ? 1600 : 3200;
  const double aperture = level > -1 ? 5.6 : level > -3 ? 4 : level > -6 ? 2.8 : 2;
  // EV 15 at ISO 100 in full sun (common practice); the setting is off by exposure_ev.
  const double ev = 15 + level - frame.exposure_ev + std::log2(*iso / 100);
  capture.exposure_time_s = aperture * aperture / std::exp2(ev);
  capture.aperture = aperture;
  capture.iso = *iso;
  capture.focal_mm = frame.body == 0 ? 35.0 + random.Below(30) : 85.0;
  capture.flash = frame.flash;
  capture.make = camera.make;
  capture.body = camera.model;
  capture.serial = camera.serial;
  capture.lens = camera.lens;
  return capture;
}

// As stored by a body held upright: turned a quarter counter-clockwise, to be turned back by EXIF
// orientation 6.
image::RgbF TurnedLeft(const image::RgbF& upright) {
  image::RgbF out(upright.height(), upright.width());
  for (int y = 0; y < out.height(); ++y)
    for (int x = 0; x < out.width(); ++x)
      std::copy_n(upright.at(upright.width() - 1 - y, x), 3, out.at(x, y));
  return out;
}

Status WriteJpegFrame(const fs::path& path, const image::RgbU8& picture, const record::Capture& capture) {
  // Metadata travel from a file: a tiny raw file lends them.
  codec::DngSpec spec;
  spec.capture = capture;
  image::Raster<std::uint16_t, 1> dot(64, 64);
  std::fill(dot.data().begin(), dot.data().end(), static_cast<std::uint16_t>(1000));
  fs::path lender = path;
  lender += ".dng";
  if (Status status = codec::WriteDng(lender, dot, spec); !status.ok()) return status;
  codec::WriteOptions options;
  options.quality = 92;
  options.subsampling = codec::Subsampling::k420;
  options.metadata_from = lender;
  Status status = codec::WritePicture(path, picture, options);
  std::error_code ignored;
  fs::remove(lender, ignored);
  return status;
}

Status WritePng(const fs::path& path, const image::RgbF& srgb_linear) {
  codec::WriteOptions options;
  options.format = codec::Format::kPng;
  return codec::WritePicture(path, EncodeSrgb(srgb_linear), options);
}

}  // namespace

Result<SessionSummary> WriteSession(const fs::path& dir, const SessionOptions& options, Progress& progress,
                                    const Cancel& cancel) {
  auto made = MakePlan(options);
  if (!made.ok()) return made.error();
  const Plan& plan = *made;
  std::error_code failed;
  if (fs::exists(dir / "truth", failed))
    return Error{ErrorCode::kInvalidArgument, "the folder already holds a demo session", dir.string(),
                 "choose another folder, or remove it first"};
  const auto folder = [&](const fs::path& path) -> Status {
    std::error_code code;
    fs::create_directories(path, code);
    if (code) return ErrorFromErrno(code.value(), "create", path);
    return {};
  };
  for (const char* name : {"digital/body-1", "digital/body-2", "truth/frames/body-1", "truth/frames/body-2"})
    if (Status status = folder(dir / name); !status.ok()) return status.error();
  for (const auto& roll : plan.rolls) {
    if (Status status = folder(dir / "film" / roll.name); !status.ok()) return status.error();
    if (Status status = folder(dir / "truth/scans" / roll.name); !status.ok()) return status.error();
  }

  SessionSummary summary;
  summary.frames = static_cast<int>(plan.frames.size());
  summary.scans = static_cast<int>(plan.scans.size());
  summary.lights = static_cast<int>(
      std::count_if(plan.lights.begin(), plan.lights.end(), [](const auto& l) { return l.digital; }));
  Camera cameras[2] = {MakeCamera(plan.cameras[0], options.seed), MakeCamera(plan.cameras[1], options.seed)};
  if (options.vignetting) {
    cameras[0].vignetting_ev = 0.7;
    cameras[1].vignetting_ev = 1.1;
  }
  const auto stocks = MakeStocks(options.seed);
  // One lab for all rolls of a stock; a pushed roll has its own scanner zero.
  std::map<std::pair<int, int>, std::unique_ptr<Lab>> labs;
  const auto lab_for = [&](int stock, double push_ev) -> const Lab& {
    auto& lab = labs[{stock, static_cast<int>(push_ev * 10)}];
    if (!lab) lab = std::make_unique<Lab>(stocks[stock], options.seed, push_ev);
    return *lab;
  };
  for (const auto& light : plan.lights) lab_for(light.stock, 0);
  for (const auto& roll : plan.rolls) lab_for(roll.stock, roll.push_ev);

  using nlohmann::json;
  std::vector<json> frame_truth(plan.frames.size()), scan_truth(plan.scans.size()),
      light_truth(plan.lights.size());
  std::vector<double> nudge(plan.scans.size(), 0);
  std::vector<std::unique_ptr<Photograph>> photographs(plan.IsPainted() ? plan.painted
                                                                        : plan.photographs.size());
  std::vector<bool> used(photographs.size(), false);
  std::mutex problem_mutex;
  std::optional<Error> problem;
  const auto fail = [&](const Error& error) {
    const std::lock_guard lock(problem_mutex);
    if (!problem) problem = error;
  };

  progress.Begin("writing the demo session", static_cast<long>(plan.frames.size() + plan.scans.size()));
  for (std::size_t l = 0; l < plan.lights.size() && !problem && !cancel.requested(); ++l) {
    const PlannedLight& light = plan.lights[l];
    const int base_px = std::clamp(static_cast<int>(options.frame_long_side_px * 1.7), 800, 4000);
    std::atomic<int> skipped = 0;
    ParallelFor(light.photographs.size(), cancel, [&](std::size_t k) {
      const int index = light.photographs[k];
      if (photographs[index]) return;
      if (!plan.IsPainted()) {
        SkinTone skin;
        if (options.skin_of_every_tone) {
          Random random(options.seed, {0x5c1, static_cast<std::uint64_t>(index)});
          skin.change = true;
          skin.lightness = std::exp2(random.Uniform(-2.0, 0.4));
        }
        auto read = LoadPhotograph(options.photographs / plan.photographs[index], base_px, skin);
        if (read.ok()) {
          photographs[index] = std::make_unique<Photograph>(std::move(*read));
          return;
        }
        ++skipped;
      }
      photographs[index] = std::make_unique<Photograph>(PaintScene(options.seed * 1000 + index, base_px));
    });
    if (cancel.requested()) break;
    summary.skipped += skipped;
    for (int index : light.photographs) used[index] = true;

    LightStudio studio(plan, options, static_cast<int>(l), photographs, stocks);
    const Stock& stock = stocks[light.stock];
    const Lab& lab = lab_for(light.stock, 0);
    std::vector<std::size_t> frames, scans;
    for (std::size_t i = 0; i < plan.frames.size(); ++i)
      if (plan.moments[plan.frames[i].moment].light == static_cast<int>(l)) frames.push_back(i);
    for (std::size_t i = 0; i < plan.scans.size(); ++i)
      if (plan.moments[plan.scans[i].moment].light == static_cast<int>(l)) scans.push_back(i);

    // The lab's mean setting for this light: what its automat says to small prints of everything seen in it.
    constexpr double kFrameAspect = 1.5;
    std::vector<LabSetting> asked(frames.size() + scans.size());
    const auto automatic = [&](const Stock& film, const Lab& by, const Moment& moment, const View& view,
                               bool flash, double over, double push, double aspect, bool portrait) {
      const Size small = SizeFor(aspect, 160, portrait);
      Development how;
      how.over_ev = over;
      how.push_ev = push;
      const double shape = static_cast<double>(small.width) / small.height;
      return by.Automatic(by.Scan(Develop(
          film, studio.OnFilm(film, moment, flash, studio.LookAt(moment, view, flash, small, shape)), how)));
    };
    ParallelFor(asked.size(), cancel, [&](std::size_t k) {
      if (k < frames.size()) {
        const auto& f = plan.frames[frames[k]];
        asked[k] = automatic(stock, lab, plan.moments[f.moment], f.view, f.flash, studio.FilmOver(), 0,
                             kFrameAspect, f.portrait);
      } else {
        const auto& s = plan.scans[scans[k - frames.size()]];
        asked[k] = automatic(stock, lab, plan.moments[s.moment], s.view, false, studio.FilmOver(), 0,
                             plan.rolls[s.roll].aspect, s.portrait);
      }
    });
    const LabSetting mean = Mean(asked);
    light_truth[l] = {{"name", light.lighting.name},
                      {"filmed", light.filmed},
                      {"digital", light.digital},
                      {"stock", stock.name}};

    ParallelFor(frames.size() + scans.size(), cancel, [&](std::size_t k) {
      if (k < frames.size()) {
        const std::size_t index = frames[k];
        const PlannedFrame& frame = plan.frames[index];
        const Moment& moment = plan.moments[frame.moment];
        const Camera& camera = cameras[frame.body];
        const Size size = SizeFor(kFrameAspect, options.frame_long_side_px, frame.portrait);
        const double aspect = static_cast<double>(size.width) / size.height;
        const SceneView view = studio.LookAt(moment, frame.view, frame.flash, size, aspect);
        Vec3 neutral;
        const image::RgbF response = studio.Expose(camera.sees, moment, frame.flash, view, &neutral);
        Shot shot;
        const auto capture =
            CaptureOf(plan, frame, camera, light.lighting, options.seed * 7 + index, &shot.iso);
        shot.exposure_ev = frame.exposure_ev;
        shot.noise_seed = options.seed * 1000003 + index;
        shot.flare = options.flare ? 0.03 : 0;
        shot.as_shot_neutral = GuessNeutral(camera, response, neutral, options.seed * 13 + index);
        const image::RgbF linear = Illuminate(camera, response, neutral[1], shot);
        const fs::path path = dir / frame.file;
        Status status;
        if (frame.jpeg) {
          status = WriteJpegFrame(path, Develop(camera, linear, shot), capture);
        } else {
          codec::DngSpec spec;
          spec.camera_from_xyz = camera.camera_from_xyz;
          spec.as_shot_neutral = shot.as_shot_neutral;
          spec.orientation = frame.portrait ? 6 : 1;
          spec.capture = capture;
          status = codec::WriteDng(
              path, Mosaic(camera, frame.portrait ? TurnedLeft(linear) : linear, shot, spec), spec);
        }
        if (!status.ok()) return fail(status.error());
        // The same view on film.
        const Size small =
            SizeFor(kFrameAspect, std::min(kTruthLongSide, options.frame_long_side_px), frame.portrait);
        Development how;
        how.over_ev = studio.FilmOver();
        const auto film = studio.OnFilm(stock, moment, frame.flash,
                                        studio.LookAt(moment, frame.view, frame.flash, small, aspect));
        const auto truth = lab.Print(lab.Scan(Develop(stock, film, how)), mean);
        const std::string truth_file =
            "truth/frames" + frame.file.substr(std::string("digital").size()) + ".png";
        if (Status written = WritePng(dir / truth_file, truth); !written.ok()) return fail(written.error());
        frame_truth[index] = {{"frame", frame.file},
                              {"truth", truth_file},
                              {"light", l},
                              {"moment", frame.moment},
                              {"stock", stock.name},
                              {"source", camera.model + (frame.jpeg ? " jpeg" : " raw")},
                              {"exposure_ev", frame.exposure_ev},
                              {"brighter_ev", moment.brighter_ev},
                              {"flash", frame.flash},
                              {"as_shot_neutral", shot.as_shot_neutral},
                              {"true_neutral", Vec3{neutral[0] / neutral[1], 1, neutral[2] / neutral[1]}}};
      } else {
        const std::size_t index = scans[k - frames.size()];
        const PlannedScan& scan = plan.scans[index];
        const PlannedRoll& roll = plan.rolls[scan.roll];
        const Moment& moment = plan.moments[scan.moment];
        const Stock& film = stocks[roll.stock];
        const Lab& by = labs.at({roll.stock, static_cast<int>(roll.push_ev * 10)}).operator*();
        const Size size =
            SizeFor(roll.aspect, static_cast<int>(options.frame_long_side_px * 1.1), scan.portrait);
        const double aspect = static_cast<double>(size.width) / size.height;
        const SceneView view = studio.LookAt(moment, scan.view, false, size, aspect);
        const image::RgbF exposure = studio.OnFilm(film, moment, false, view);
        Development how;
        how.over_ev = studio.FilmOver();
        how.push_ev = roll.push_ev;
        const image::RgbF clean = by.Scan(Develop(film, exposure, how));
        how.over_ev += scan.exposure_error_ev;
        how.grain = true;
        how.grain_seed = options.seed * 999983 + index * 31;
        how.pixel_um = 56000.0 / std::max(size.width, size.height);
        const image::RgbF dense = by.Scan(Develop(film, exposure, how));

        // The correction of this scan: a part of what its content asks for beyond the light's mean, all of
        // what a wrong exposure asks for, and the operator's hand.
        Random random(options.seed, {0x0b, index});
        const LabSetting own = by.Automatic(clean), actual = by.Automatic(dense);
        const bool same_film = roll.stock == light.stock && roll.push_ev == 0;
        const LabSetting base = same_film ? mean : own;
        LabSetting setting = base;
        constexpr double kContentPart = 0.35;
        const double density = random.Normal(0, 0.012);
        for (int c = 0; c < 3; ++c) {
          const double error = (actual.shift[c] - own.shift[c]) / 0.55;
          setting.shift[c] +=
              kContentPart * (own.shift[c] - base.shift[c]) + error + density + random.Normal(0, 0.007);
          setting.black[c] = std::max(
              0.0, base.black[c] + kContentPart * (own.black[c] - base.black[c]) + random.Normal(0, 0.0008));
        }
        setting.contrast += kContentPart * (own.contrast - base.contrast) + random.Normal(0, 0.012);
        image::RgbF positive = by.Print(dense, setting);
        codec::WriteOptions write;
        write.quality = 95;
        if (Status status = codec::WritePicture(dir / scan.file, EncodeSrgb(positive), write); !status.ok())
          return fail(status.error());

        const image::RgbF plain = image::ShrinkTo(by.Print(clean, base), kTruthLongSide);
        const std::string truth_file =
            "truth/scans" + scan.file.substr(std::string("film").size(), scan.file.size() - 8) + ".png";
        if (Status written = WritePng(dir / truth_file, plain); !written.ok()) return fail(written.error());
        Development smooth = how;
        smooth.grain = false;
        nudge[index] =
            MeanDifference(image::ShrinkTo(by.Print(clean, base), 400),
                           image::ShrinkTo(by.Print(by.Scan(Develop(film, exposure, smooth)), setting), 400));
        json moment_frames = json::array();
        if (!scan.other_people)
          for (std::size_t f : frames)
            if (plan.frames[f].moment == scan.moment) moment_frames.push_back(plan.frames[f].file);
        json light_frames = json::array();
        for (std::size_t f : frames) light_frames.push_back(plan.frames[f].file);
        scan_truth[index] = {{"scan", scan.file},
                             {"truth", truth_file},
                             {"light", l},
                             {"moment", scan.moment},
                             {"roll", roll.name},
                             {"stock", film.name},
                             {"exposure_error_ev", scan.exposure_error_ev},
                             {"push_ev", roll.push_ev},
                             {"mirrored", scan.other_people},
                             {"nudge_de", nudge[index]},
                             {"kind", frames.empty()          ? "none"
                                      : moment_frames.empty() ? "light"
                                                              : "moment"},
                             {"moment_frames", moment_frames},
                             {"light_frames", light_frames}};
      }
      progress.Advance(1);
    });
    for (int index : light.photographs) photographs[index].reset();
  }
  progress.End();
  if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", dir.string(), ""};
  if (problem) return *problem;

  json truth;
  truth["version"] = 1;
  truth["seed"] = options.seed;
  truth["painted"] = plan.IsPainted();
  truth["clock_offset_s"] = plan.clock_offset_s;
  truth["lights"] = light_truth;
  truth["frames"] = frame_truth;
  truth["scans"] = scan_truth;
  if (Status status = WriteFileWhole(dir / "truth/truth.json", truth.dump(1) + "\n"); !status.ok())
    return status.error();
  for (double v : nudge) summary.nudge_de += v / std::max<std::size_t>(1, nudge.size());
  if (!plan.IsPainted())
    summary.photographs = static_cast<int>(std::count(used.begin(), used.end(), true)) - summary.skipped;
  return summary;
}

fs::path FindPhotographs() {
  std::error_code ignored;
  if (const char* assets = std::getenv("SAMELIGHT_ASSETS")) {
    const fs::path photos = fs::path(assets) / "photos";
    if (fs::is_directory(photos, ignored)) return photos;
  }
  for (fs::path at = fs::read_symlink("/proc/self/exe", ignored).parent_path(); at.has_relative_path();
       at = at.parent_path())
    for (const char* place : {"assets/photos", "build/assets/photos"})
      if (fs::is_directory(at / place, ignored)) return at / place;
  return {};
}

}  // namespace samelight::simulate
