// What the session came to, for programs and for people.
#include <algorithm>

#include "base/file.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "codec/write.h"
#include "image/resize.h"
#include "job/rolls.h"
#include "job/running_order.h"
#include "job/said.h"
#include "job/stages.h"
#include "look/evaluate.h"
#include "measure/cache.h"
#include "measure/measure.h"
#include "report/proof.h"
#include "report/words.h"
#include "solve/skin_spread.h"

namespace samelight::job {
namespace {

using record::Photo;

constexpr int kThumbnailQuality = 82;  // common practice for small pictures on a page

// Scans by roll and place, frames by time on one clock.
void Order(const std::vector<session::Clock>& clocks, std::vector<Photo>& photos) {
  const auto time_us = [&](const Photo& photo) { return SessionTime(photo, clocks).value_or(INT64_MAX); };
  std::stable_sort(photos.begin(), photos.end(), [&](const Photo& a, const Photo& b) {
    if (a.role != b.role) return a.role == record::Role::kScan;
    if (a.role == record::Role::kScan)
      return std::pair(a.roll, a.roll_position) < std::pair(b.roll, b.roll_position);
    return time_us(a) < time_us(b);
  });
}

// A page: laid out with the pictures that it is given.
using Layout = std::function<void(const report::Thumbnail&)>;

// Small pictures for a page, from the cache alone. The page is laid out twice: once to hear which pictures
// it wants, which are then made by all workers, and once with them.
class Thumbnails {
 public:
  Thumbnails(const session::Session& session, const report::Report& report, const Layout& layout)
      : session_(session) {
    for (const Photo& photo : report.photos) photos_[photo.id] = &photo;
    for (const record::FrameSolution& solution : report.frames) solutions_[solution.frame] = &solution;
    layout([this](PhotoId id, report::Version version, int long_side_px) {
      wanted_.push_back({id, version, long_side_px});
      return std::vector<std::uint8_t>();
    });
    std::sort(wanted_.begin(), wanted_.end());
    wanted_.erase(std::unique(wanted_.begin(), wanted_.end()), wanted_.end());
    made_.resize(wanted_.size());
  }
  std::size_t size() const { return wanted_.size(); }
  // False when stopped.
  bool MakeAll(const Work& work) {
    return ParallelFor(wanted_.size(), work.cancel, [&](std::size_t i) {
      made_[i] = Make(wanted_[i]);
      work.progress.Advance(1);
    });
  }
  std::vector<std::uint8_t> Get(PhotoId id, report::Version version, int long_side_px) const {
    const Wanted wanted{id, version, long_side_px};
    const auto it = std::lower_bound(wanted_.begin(), wanted_.end(), wanted);
    return it != wanted_.end() && *it == wanted ? made_[static_cast<std::size_t>(it - wanted_.begin())]
                                                : std::vector<std::uint8_t>();
  }

 private:
  struct Wanted {
    PhotoId id;
    report::Version version;
    int long_side_px;
    auto operator<=>(const Wanted&) const = default;
  };

  std::vector<std::uint8_t> Make(const Wanted& wanted) const {
    const auto photo = photos_.find(wanted.id);
    if (photo == photos_.end() || photo->second->hash.empty()) return {};
    return wanted.version == report::Version::kOriginal ? Original(*photo->second, wanted.long_side_px)
                                                        : Delivered(*photo->second, wanted.long_side_px);
  }
  std::vector<std::uint8_t> Original(const Photo& photo, int long_side_px) const {
    codec::ReadOptions read;
    read.at_least_long_side_px = long_side_px;
    read.correct_lens = false;
    Result<codec::Picture> proxy = codec::ReadPicture(ProxyFile(session_, photo), read);
    if (!proxy.ok()) return {};
    return Encoded(image::ShrinkTo(proxy->pixels, long_side_px));
  }
  // By the exact evaluation: for so few pixels it costs less than a table.
  std::vector<std::uint8_t> Delivered(const Photo& photo, int long_side_px) const {
    const auto solution = solutions_.find(photo.id);
    if (solution == solutions_.end()) return {};
    Result<measure::Cached> cached = measure::ReadCached(AnalysisFile(session_, photo));
    if (!cached.ok()) return {};
    image::RgbF pixels = image::ShrinkTo(cached->analysis.pixels, long_side_px);
    const look::Resolved resolved = look::Resolve(solution->second->correction);
    for (std::size_t i = 0; i < pixels.data().size(); i += 3) {
      float* p = pixels.data().data() + i;
      const Vec3 out = look::Evaluate(resolved, {p[0], p[1], p[2]});
      for (int c = 0; c < 3; ++c) p[c] = static_cast<float>(out[c]);
    }
    return Encoded(pixels);
  }
  static std::vector<std::uint8_t> Encoded(const image::RgbF& display_linear) {
    Result<std::vector<std::uint8_t>> jpeg =
        codec::EncodeJpeg(measure::NeutralRendering(display_linear, false), kThumbnailQuality);
    return jpeg.ok() ? std::move(jpeg).value() : std::vector<std::uint8_t>();
  }

  const session::Session& session_;
  std::unordered_map<PhotoId, const Photo*> photos_;
  std::unordered_map<PhotoId, const record::FrameSolution*> solutions_;
  std::vector<Wanted> wanted_;  // sorted
  std::vector<std::vector<std::uint8_t>> made_;
};

}  // namespace

namespace {

// A frame that a person settled has no reason to be looked at any more; one that was put back has one.
void HearSettled(const session::Standing& standing, std::vector<record::FrameSolution>& frames) {
  for (record::FrameSolution& frame : frames) {
    const auto said = standing.settled.find(frame.frame);
    if (said == standing.settled.end()) continue;
    if (said->second)
      frame.flags.clear();
    else if (frame.flags.empty())
      frame.flags.push_back({record::FlagKind::kByHand, "put back to be checked by hand", ""});
  }
}

}  // namespace

Result<report::Report> MakeReport(const session::Session& session, const fs::path& folder) {
  Result<report::Report> report = ReportAsSolved(session, folder);
  if (!report.ok()) return report;
  Result<session::Standing> said = StandingOf(session);
  if (!said.ok()) return said.error();
  HearSettled(*said, report->frames);
  return report;
}

Result<report::Report> ReportAsSolved(const session::Session& session, const fs::path& folder) {
  report::Report report;
  report.session = session.file().stem().string();
  report.version = Version();
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<std::unordered_map<PhotoId, session::MeasuredEntry>> measured = session.Measured();
  if (!measured.ok()) return measured.error();
  Result<session::Standing> said = StandingOf(session);
  if (!said.ok()) return said.error();
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

  const session::Standing& standing = *said;
  std::unordered_map<PhotoId, record::Measured> facts;
  for (auto& [id, entry] : *measured) facts[id] = std::move(entry.measured);
  report.photos = std::move(photos).value();
  Order(pairs->clocks, report.photos);
  report.rolls = StandingRolls(std::move(rolls).value(), standing, facts, report.photos);
  for (const solve::SkinSpread& s : solve::SkinSpreads(match->frames, facts))
    report.skin_spread.push_back({s.light, s.frames, s.sigma});
  report.lights = std::move(pairs->lights);
  NameLights(standing, report.lights);
  report.pairs = std::move(pairs->pairs);
  report.seen = std::move(pairs->notes);
  report.frames = std::move(match->frames);
  for (const session::Nudge& nudge : match->nudges)
    report.scan_nudges[nudge.scan] = {nudge.de, nudge.influence};
  for (const session::RollSpread& roll : match->rolls)
    report.roll_spreads.push_back({roll.roll, roll.scans, roll.de});
  report.notes = report::AssumedColours(report.photos);
  report.notes.insert(report.notes.end(), match->notes.begin(), match->notes.end());
  const std::set<PhotoId> kept_out = KeptOut(standing, report.lights);
  report.barred.assign(kept_out.begin(), kept_out.end());
  for (session::Clock& clock : pairs->clocks)
    report.clocks.push_back({std::move(clock.body), clock.offset_s, clock.confidence});
  // A frame may have been delivered to several folders: the one of this report counts.
  std::error_code ec;
  const fs::path here = fs::weakly_canonical(folder, ec);
  for (const session::Delivery& delivery : *deliveries) {
    const fs::path file = session.Absolute(delivery.output);
    if (!delivery.done) continue;
    const fs::path below = file.lexically_relative(here);
    const bool in_folder = !below.empty() && *below.begin() != "..";
    if (in_folder || !report.outputs.contains(delivery.frame))
      report.outputs[delivery.frame] = file.lexically_relative(here).generic_string();
  }
  report.problems = Told(*problems);
  report.tolerance = session::SettingOf(standing, "tolerance");
  report.follow = session::SettingOf(standing, "follow") / 100;
  report.follow_scan = session::SettingOf(standing, "follow-scan") != 0;
  report.skin_weight = session::SettingOf(standing, "skin-weight");
  return report;
}

namespace {

// Makes the pictures that `layout` wants and lays the page out with them.
Status LayOut(const session::Session& session, const report::Report& report, const std::string& told,
              const Layout& layout, const Work& work) {
  Thumbnails thumbnails(session, report, layout);
  work.progress.Begin(told, static_cast<long>(thumbnails.size()));
  const bool all = thumbnails.MakeAll(work);
  if (all)
    layout([&](PhotoId id, report::Version version, int long_side_px) {
      return thumbnails.Get(id, version, long_side_px);
    });
  work.progress.End();
  return all ? Status() : Status(Stopped());
}

}  // namespace

Status WriteReports(session::Session& session, const fs::path& folder, const Work& work) {
  Result<report::Report> report = MakeReport(session, folder);
  if (!report.ok()) return report.error();
  Status written = report::WriteJson(folder / "report.json", *report);
  if (!written.ok()) return written;
  std::string page;
  Status laid_out = LayOut(
      session, *report, "writing the report",
      [&](const report::Thumbnail& get) { page = report::HtmlText(*report, get); }, work);
  return laid_out.ok() ? WriteFileWhole(folder / "report.html", page) : laid_out;
}

Status WriteProofs(session::Session& session, const fs::path& file, const Work& work) {
  Result<report::Report> report = MakeReport(session, file.parent_path());
  if (!report.ok()) return report.error();
  std::string page;
  Status laid_out = LayOut(
      session, *report, "making the proof sheet",
      [&](const report::Thumbnail& get) { page = report::ProofText(*report, get); }, work);
  return laid_out.ok() ? WriteFileWhole(file, page) : laid_out;
}

}  // namespace samelight::job
