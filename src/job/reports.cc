// What the session came to, for programs and for people.
#include <algorithm>

#include "base/file.h"
#include "codec/read.h"
#include "codec/write.h"
#include "image/resize.h"
#include "job/stages.h"
#include "measure/cache.h"
#include "measure/measure.h"
#include "pair/clock.h"
#include "render/render.h"

namespace samelight::job {
namespace {

using record::Photo;

constexpr int kThumbnailQuality = 82;  // common practice for small pictures on a page

// Scans by roll and place, frames by time on one clock.
void Order(const std::vector<session::Clock>& clocks, std::vector<Photo>& photos) {
  std::unordered_map<std::string, double> offset_s;
  for (const session::Clock& clock : clocks) offset_s[clock.body] = clock.offset_s;
  const auto time_us = [&](const Photo& photo) {
    if (!photo.capture.time_us) return INT64_MAX;
    const auto it = offset_s.find(pair::BodyName(photo));
    const double offset_us = it == offset_s.end() ? 0 : it->second * 1e6;
    return *photo.capture.time_us + static_cast<std::int64_t>(offset_us);
  };
  std::stable_sort(photos.begin(), photos.end(), [&](const Photo& a, const Photo& b) {
    if (a.role != b.role) return a.role == record::Role::kScan;
    if (a.role == record::Role::kScan)
      return std::pair(a.roll, a.roll_position) < std::pair(b.roll, b.roll_position);
    return time_us(a) < time_us(b);
  });
}

// Small pictures for the page, from the cache alone.
class Thumbnails {
 public:
  Thumbnails(const session::Session& session, const report::Report& report) : session_(session) {
    for (const Photo& photo : report.photos) photos_[photo.id] = &photo;
    for (const record::FrameSolution& solution : report.frames) solutions_[solution.frame] = &solution;
  }
  std::vector<std::uint8_t> Make(PhotoId id, report::Version version, int long_side_px) const {
    const auto photo = photos_.find(id);
    if (photo == photos_.end() || photo->second->hash.empty()) return {};
    return version == report::Version::kOriginal ? Original(*photo->second, long_side_px)
                                                 : Delivered(*photo->second, long_side_px);
  }

 private:
  std::vector<std::uint8_t> Original(const Photo& photo, int long_side_px) const {
    codec::ReadOptions read;
    read.at_least_long_side_px = long_side_px;
    read.correct_lens = false;
    Result<codec::Picture> proxy = codec::ReadPicture(ProxyFile(session_, photo), read);
    if (!proxy.ok()) return {};
    return Encoded(measure::NeutralRendering(image::ShrinkTo(proxy->pixels, long_side_px), false));
  }
  std::vector<std::uint8_t> Delivered(const Photo& photo, int long_side_px) const {
    const auto solution = solutions_.find(photo.id);
    if (solution == solutions_.end()) return {};
    Result<measure::Cached> cached = measure::ReadCached(AnalysisFile(session_, photo));
    if (!cached.ok()) return {};
    Result<image::RgbU8> rendered = render::Render8(image::ShrinkTo(cached->analysis.pixels, long_side_px),
                                                    solution->second->correction, {});
    return rendered.ok() ? Encoded(*rendered) : std::vector<std::uint8_t>();
  }
  static std::vector<std::uint8_t> Encoded(const image::RgbU8& srgb) {
    Result<std::vector<std::uint8_t>> jpeg = codec::EncodeJpeg(srgb, kThumbnailQuality);
    return jpeg.ok() ? std::move(jpeg).value() : std::vector<std::uint8_t>();
  }

  const session::Session& session_;
  std::unordered_map<PhotoId, const Photo*> photos_;
  std::unordered_map<PhotoId, const record::FrameSolution*> solutions_;
};

}  // namespace

Result<report::Report> MakeReport(const session::Session& session, const fs::path& folder) {
  report::Report report;
  report.session = session.file().stem().string();
  report.version = Version();
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<std::unordered_map<PhotoId, session::MeasuredEntry>> measured = session.Measured();
  if (!measured.ok()) return measured.error();
  Result<std::vector<session::Word>> words = session.Words();
  if (!words.ok()) return words.error();
  Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!rolls.ok()) return rolls.error();
  Result<session::PairResult> pairs = session.PairsWithoutMatches();
  if (!pairs.ok()) return pairs.error();
  Result<session::MatchResult> match = session.Match();
  if (!match.ok()) return match.error();
  Result<std::vector<session::Delivery>> deliveries = session.Deliveries();
  if (!deliveries.ok()) return deliveries.error();
  Result<std::vector<session::Problem>> problems = session.Problems();
  if (!problems.ok()) return problems.error();

  const session::Standing standing = session::Fold(*words);
  std::unordered_map<PhotoId, record::Measured> facts;
  for (auto& [id, entry] : *measured) facts[id] = std::move(entry.measured);
  report.photos = std::move(photos).value();
  Order(pairs->clocks, report.photos);
  report.rolls = StandingRolls(std::move(rolls).value(), standing, facts);
  report.lights = std::move(pairs->lights);
  report.pairs = std::move(pairs->pairs);
  report.frames = std::move(match->frames);
  for (const session::Nudge& nudge : match->nudges) report.scan_nudges[nudge.scan] = nudge.de;
  report.notes = std::move(match->notes);
  report.barred.assign(standing.barred.begin(), standing.barred.end());
  for (session::Clock& clock : pairs->clocks)
    report.clocks.push_back({std::move(clock.body), clock.offset_s, clock.confidence});
  // A frame may have been delivered to several folders: the one of this report counts.
  std::error_code ec;
  const fs::path here = fs::weakly_canonical(folder, ec);
  for (const session::Delivery& delivery : *deliveries) {
    const fs::path file = session.Absolute(delivery.output);
    if (!delivery.done) continue;
    const bool in_folder = file.parent_path() == here;
    if (in_folder || !report.outputs.contains(delivery.frame))
      report.outputs[delivery.frame] = file.lexically_relative(here).generic_string();
  }
  report.problems = Told(*problems);
  report.tolerance = session::SettingOf(standing, "tolerance");
  report.follow = session::SettingOf(standing, "follow") / 100;
  return report;
}

Status WriteReports(session::Session& session, const fs::path& folder, const Work& work) {
  Result<report::Report> report = MakeReport(session, folder);
  if (!report.ok()) return report.error();
  work.progress.Begin("writing the report", 2);
  Status written = report::WriteJson(folder / "report.json", *report);
  work.progress.Advance(1);
  if (written.ok()) {
    const Thumbnails thumbnails(session, *report);
    written = report::WriteHtml(folder / "report.html", *report,
                                [&](PhotoId id, report::Version version, int long_side_px) {
                                  return work.cancel.requested() ? std::vector<std::uint8_t>()
                                                                 : thumbnails.Make(id, version, long_side_px);
                                });
  }
  work.progress.Advance(1);
  work.progress.End();
  return work.cancel.requested() ? Status(Stopped()) : written;
}

}  // namespace samelight::job
