// An invented session without files, for the desk's tests and its benchmark: everything that stages would
// have found is written into the session file at once.
#pragma once

#include <cmath>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

#include "base/file.h"
#include "codec/write.h"
#include "look/evaluate.h"
#include "measure/cache.h"
#include "measure/measure.h"
#include "session/session.h"
#include "solve/left_over.h"
#include "solve/shown.h"

namespace samelight::job {

struct InventedOptions {
  int frames = 40, frames_per_light = 10, frames_per_scan = 5;
  int cells = 160;   // per pair
  int pictures = 0;  // how many frames (and as many scans) get an analysis picture in the cache
  bool last_light_unfilmed = true;
  double first_error_ev = 0.5;  // the first frame is solved too dark by this
};

// The film that the invented scans show.
inline record::Correction InventedCorrection() {
  record::Correction c;
  c.look = look::NeutralLook();
  c.look.m2 = {{{1.06, -0.04, -0.02}, {-0.02, 1.05, -0.03}, {-0.02, -0.05, 1.07}}};
  for (int i = 0; i < 3; ++i) {
    c.look.layer[i].gamma = 1.15 + 0.04 * i;
    c.look.layer[i].floor = -2.0;
  }
  c.look.bumps[1] = {2, -0.05, 0.5};
  c.offset_log10 = {0.04, 0, -0.03};
  return c;
}

// Scene-linear colours of the regions (rounded from measured spectra under D65; greys by definition).
inline const std::vector<std::pair<record::RegionKind, Vec3>>& InventedRegions() {
  static const std::vector<std::pair<record::RegionKind, Vec3>> regions = {
      {record::RegionKind::kSkin, {0.30, 0.22, 0.16}},
      {record::RegionKind::kFoliage, {0.075, 0.11, 0.045}},
      {record::RegionKind::kSky, {0.35, 0.45, 0.62}},
      {record::RegionKind::kWhiteCloth, {0.60, 0.60, 0.58}},
      {record::RegionKind::kNeutral, {0.18, 0.18, 0.18}},
      {record::RegionKind::kShadow, {0.015, 0.015, 0.016}},
      {record::RegionKind::kHighlight, {0.75, 0.74, 0.70}},
      {record::RegionKind::kDarkCloth, {0.03, 0.03, 0.035}}};
  return regions;
}

class InventedSession {
 public:
  InventedSession(const std::filesystem::path& folder, const InventedOptions& options)
      : options_(options), file_(folder / "invented.samelight") {
    auto session = session::Session::Open(file_, session::Access::kCreate);
    if (!session.ok()) return;
    std::error_code ec;
    std::filesystem::create_directories((*session)->cache_folder(), ec);
    auto change = (*session)->Begin();
    if (!change.ok()) return;
    Write(**session, *change);
    ok_ = ok_ && change->Commit().ok();
  }
  bool ok() const { return ok_; }
  const std::filesystem::path& file() const { return file_; }
  const std::vector<PhotoId>& frames() const { return frames_; }
  const std::vector<PhotoId>& scans() const { return scans_; }

 private:
  void Keep(const Status& status) { ok_ = ok_ && status.ok(); }

  record::Photo PhotoFor(record::Role role, int number) {
    record::Photo photo;
    photo.role = role;
    photo.encoding = role == record::Role::kScan ? record::Encoding::kJpeg : record::Encoding::kRaw;
    char name[64];
    std::snprintf(name, sizeof name,
                  role == record::Role::kScan ? "film/roll 1/%03d.jpg" : "digital/%04d.dng", number);
    photo.path = name;
    std::snprintf(name, sizeof name, "%032x", number + (role == record::Role::kScan ? 1 << 20 : 0));
    photo.hash = name;
    photo.width_px = 3000;
    photo.height_px = 2000;
    photo.capture.time_us = 1'700'000'000'000'000 + number * 20'000'000ll;
    photo.capture.body = "body A";
    return photo;
  }

  record::Measured MeasuredFor(const record::Correction* film) const {
    record::Measured m;
    m.light.log2_level = std::log2(0.18);
    m.faces = {{0.4, 0.2, 0.5, 0.4, 0.9}};
    const look::Resolved resolved = film == nullptr ? look::Resolved{} : look::Resolve(*film);
    for (const auto& [kind, scene] : InventedRegions()) {
      record::RegionStat stat;
      stat.kind = kind;
      stat.area = 0.1;
      const Vec3 shown = film == nullptr ? scene : look::Evaluate(resolved, scene);
      stat.quantiles.fill(shown);
      stat.mean = shown;
      m.regions.push_back(stat);
      if (kind == record::RegionKind::kSkin) {
        stat.face = 0;
        m.regions.push_back(stat);
      }
    }
    return m;
  }

  record::Correspondence MatchedPlaces(PhotoId scan, PhotoId frame, const look::Resolved& film) {
    record::Correspondence c;
    c.a = scan;
    c.b = frame;
    c.inliers = 100;
    std::uniform_real_distribution<double> u(0, 1);
    for (int i = 0; i < options_.cells; ++i) {
      const auto& [kind, scene] = InventedRegions()[static_cast<std::size_t>(i) % InventedRegions().size()];
      const double level = std::exp2(0.6 * (u(random_) - 0.5));
      const Vec3 b{scene[0] * level, scene[1] * level, scene[2] * level};
      const Vec3 a = look::Evaluate(film, b);
      record::Cell cell;
      cell.bx = static_cast<float>(u(random_));
      cell.by = static_cast<float>(u(random_));
      cell.ax = 0.1f + 0.8f * cell.bx;  // the scan shows a little more
      cell.ay = 0.1f + 0.8f * cell.by;
      for (int k = 0; k < 3; ++k) {
        cell.a_rgb[k] = static_cast<float>(a[k]);
        cell.b_rgb[k] = static_cast<float>(b[k]);
      }
      cell.region = kind;
      cell.face = kind == record::RegionKind::kSkin ? 0 : -1;
      c.cells.push_back(cell);
    }
    return c;
  }

  void CachePicture(const session::Session& session, const record::Photo& photo, const look::Resolved* film) {
    measure::Cached cached;
    cached.analysis.pixels.Resize(1024, 683);
    cached.analysis.labels.Resize(1024, 683);
    cached.analysis.faces.Resize(1024, 683);
    for (int y = 0; y < 683; ++y)
      for (int x = 0; x < 1024; ++x) {
        const double level = std::exp2(-4 + 5.0 * x / 1024 + std::sin(y * 0.02));
        const Vec3 scene{0.2 * level * (1 + 0.5 * std::sin(y * 0.01)), 0.2 * level,
                         0.2 * level * (1 - 0.4 * std::sin(x * 0.01))};
        const Vec3 v = film == nullptr ? scene : look::Evaluate(*film, scene);
        for (int k = 0; k < 3; ++k) cached.analysis.pixels.at(x, y)[k] = static_cast<float>(v[k]);
      }
    const auto file = session.cache_folder() / photo.hash;
    Keep(measure::WriteCached(file.string() + ".analysis", cached));
    auto jpeg = codec::EncodeJpeg(measure::NeutralRendering(cached.analysis.pixels, film == nullptr), 90);
    if (!jpeg.ok()) return Keep(jpeg.error());
    Keep(WriteFileWhole(file.string() + ".jpg", *jpeg));
  }

  void Write(const session::Session& session, session::Change& change) {
    const record::Correction film = InventedCorrection();
    const look::Resolved resolved = look::Resolve(film);
    record::Roll roll;
    roll.name = "roll 1";
    Keep(change.Put(roll));
    session::PairResult pairs;
    session::MatchResult match;
    for (int i = 0; i < options_.frames; ++i) {
      record::Photo frame = PhotoFor(record::Role::kFrame, i);
      Keep(change.Put(frame));
      frames_.push_back(frame.id);
      const record::Measured facts = MeasuredFor(nullptr);
      Keep(change.PutMeasured(frame.id, {frame.hash, facts}));
      if (i % options_.frames_per_light == 0) {
        record::Light light;
        light.id.value = static_cast<std::int64_t>(pairs.lights.size());
        light.name = "light " + std::to_string(pairs.lights.size() + 1);
        light.mired = 180;
        pairs.lights.push_back(light);
      }
      record::Light& light = pairs.lights.back();
      light.frames.push_back(frame.id);
      if (i < options_.pictures) CachePicture(session, frame, nullptr);

      record::FrameSolution solution;
      solution.frame = frame.id;
      solution.light = light.id;
      solution.look = "roll 1";
      solution.correction = film;
      solution.correction.frame = frame.id;
      if (i == 0) solution.correction.unify.exposure_log10 = -options_.first_error_ev * look::kLog10Of2;
      solution.shown = solve::ShownHandles(solution.correction);
      solution.uncertainty = {{.exposure_ev = 0.05, .warmth_mired = 3, .green_magenta = 0.8}, 0.6, 0.7, 0.5};
      const bool last = options_.last_light_unfilmed && i >= options_.frames - options_.frames_per_light;
      if (i % options_.frames_per_scan == 0 && !last) {
        record::Photo scan = PhotoFor(record::Role::kScan, static_cast<int>(scans_.size()));
        scan.roll = roll.id;
        scan.roll_position = static_cast<int>(scans_.size());
        Keep(change.Put(scan));
        scans_.push_back(scan.id);
        Keep(change.PutMeasured(scan.id, {scan.hash, MeasuredFor(&film)}));
        if (static_cast<int>(scans_.size()) <= options_.pictures) CachePicture(session, scan, &resolved);
        pairs.pairs.push_back({scan.id, frame.id, record::PairKind::kMoment, 0.9});
        light.scans.push_back(scan.id);
        solution.scan = scan.id;
        pairs.scan_to_frame.push_back(MatchedPlaces(scan.id, frame.id, resolved));
        solution.left_over =
            solve::MeasureLeftOver(pairs.scan_to_frame.back(), frame, std::log2(0.18), solution.correction);
        if (auto reason = solve::ReasonOf(solution.left_over, 2.5))
          solution.flags.push_back(std::move(*reason));
      }
      if (last)
        solution.flags.push_back({record::FlagKind::kNoFilm,
                                  "no film saw this light: the look is carried over from the others", ""});
      match.frames.push_back(std::move(solution));
    }
    Keep(change.ReplacePairs(pairs));
    Keep(change.SetMadeFrom(session::Stage::kPair, "invented"));
    Keep(change.ReplaceMatch(match));
    Keep(change.SetMadeFrom(session::Stage::kMatch, "invented"));
  }

  const InventedOptions options_;
  std::filesystem::path file_;
  std::vector<PhotoId> frames_, scans_;
  std::mt19937 random_{7};
  bool ok_ = true;
};

}  // namespace samelight::job
