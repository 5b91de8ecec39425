// One frame at the desk: its handles, regions, curves, and who looks like it.
#include <algorithm>
#include <cmath>
#include <limits>

#include "color/difference.h"
#include "job/desk_impl.h"
#include "report/words.h"
#include "solve/left_over.h"
#include "solve/region_samples.h"
#include "solve/shown.h"

namespace samelight::job {
namespace {

using record::Handle;

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

// Two frames are alike when every region that both show looks alike, and they show the same regions:
// CIEDE2000 between medians, as corrected (common practice: within what a viewer calls the same light).
constexpr double kAlike = 8;
constexpr double kSeenArea = 0.01;  // of the picture; less is not what a frame is about

bool OfPicture(Handle handle) { return handle <= Handle::kGreenMagenta; }
bool OfGrain(Handle handle) { return handle >= Handle::kGrainAmount; }

Origin OriginOf(const FrameRow& row, Handle handle) {
  if (!row.solved || OfGrain(handle)) return Origin::kNone;
  if (handle == Handle::kExposure) return Origin::kSolved;  // of the frame's own matched places and light
  if (!row.filmed) return Origin::kCarried;
  return OfPicture(handle) ? Origin::kLight : Origin::kRoll;
}

std::optional<double> SigmaOf(const record::Uncertainty& u, Handle handle) {
  const double sigma = record::ValueOf(u.handles, handle);
  return std::isfinite(sigma) && sigma > 0 ? std::optional(sigma) : std::nullopt;
}

std::string NameOfRegion(record::RegionKind kind, int face) {
  record::LeftOver l;
  l.region = kind;
  l.face = face;
  return report::RegionName(l);
}

// Skin first, then in the order of record::kAllRegions.
int Place(const solve::RegionSamples& region) {
  const auto at = std::find(record::kAllRegions.begin(), record::kAllRegions.end(), region.kind);
  return static_cast<int>(at - record::kAllRegions.begin()) * 100 + region.face;
}

double MedianOf(std::vector<double> v) {
  if (v.empty()) return kNone;
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// Places of a frame by region: matched with its scan, else as measured.
std::vector<solve::RegionSamples> Samples(const Book& book, const FrameRow& row,
                                          const record::Correspondence* matched) {
  std::vector<solve::RegionSamples> samples;
  const auto measured = book.measured->find(row.photo.id);
  if (matched != nullptr) samples = solve::SamplesOf(*matched, row.photo, book.Level(row.photo.id));
  if (measured != book.measured->end())
    for (solve::RegionSamples& own : solve::SamplesOf(measured->second, row.photo)) {
      const bool there = std::any_of(samples.begin(), samples.end(),
                                     [&](const solve::RegionSamples& s) { return s.kind == own.kind; });
      if (!there) samples.push_back(std::move(own));
    }
  std::stable_sort(samples.begin(), samples.end(),
                   [](const auto& a, const auto& b) { return Place(a) < Place(b); });
  return samples;
}

// Medians by kind of a measured picture under a correction (or as they are), with their areas.
struct Seen {
  record::RegionKind kind;
  double area;
  Vec3 lab;
};
std::vector<Seen> SeenIn(const record::Measured& measured, const look::Resolved* resolved) {
  std::vector<Seen> seen;
  for (const record::RegionStat& stat : measured.regions) {
    if (stat.face >= 0 || stat.area < kSeenArea || stat.kind == record::RegionKind::kOther) continue;
    const Vec3& median = stat.quantiles[2];
    seen.push_back({stat.kind, stat.area,
                    solve::LabOfDisplay(resolved == nullptr ? median : look::Evaluate(*resolved, median))});
  }
  return seen;
}

bool Alike(const std::vector<Seen>& a, const std::vector<Seen>& b) {
  double worst = 0, shared = 0, apart = 0;
  for (const Seen& one : a) {
    const auto other = std::find_if(b.begin(), b.end(), [&](const Seen& s) { return s.kind == one.kind; });
    if (other == b.end()) {
      apart += one.area;
      continue;
    }
    shared += std::min(one.area, other->area);
    worst = std::max(worst, color::Ciede2000(one.lab, other->lab));
  }
  return shared > apart && worst < kAlike;
}

}  // namespace

record::Handles Desk::TouchOf(PhotoId frame) const {
  const auto it = impl_->book->standing.touch.find(frame);
  return it == impl_->book->standing.touch.end() ? record::Handles{} : it->second;
}

std::optional<record::Correction> Desk::CorrectionOf(PhotoId frame) const {
  return CorrectionWith(frame, TouchOf(frame));
}

std::optional<record::Correction> Desk::CorrectionWith(PhotoId frame, const record::Handles& touch) const {
  const FrameRow* row = impl_->book->Frame(frame);
  if (row == nullptr || !row->solved) return std::nullopt;
  record::Correction correction = row->solution.correction;
  correction.touch = touch;
  return correction;
}

std::shared_ptr<const record::Correspondence> Desk::Matched(PhotoId a, PhotoId b) const {
  const auto it = impl_->matched.find({a, b});
  return it == impl_->matched.end() ? nullptr : it->second;
}

std::vector<HandleValue> Desk::Handles(PhotoId frame) const {
  const FrameRow* row = impl_->book->Frame(frame);
  if (row == nullptr || !row->solved) return {};
  const auto shown = [](const FrameRow& of) { return solve::ShownHandles(of.solution.correction); };
  const record::Handles solved = shown(*row), touch = row->solution.correction.touch;
  std::vector<record::Handles> light;
  if (row->light >= 0)
    for (const PhotoId id : impl_->book->lights[static_cast<std::size_t>(row->light)].frames)
      if (const FrameRow* other = impl_->book->Frame(id); other != nullptr && other->solved) {
        record::Handles all = other->solution.shown;
        all.hues = solved.hues;  // of the roll: the same for the light
        for (const record::HandleFacts& facts : record::AllHandles())
          record::SetSum(all, all, other->solution.correction.touch, facts.handle);
        light.push_back(all);
      }
  std::vector<HandleValue> values;
  for (const record::HandleFacts& facts : record::AllHandles()) {
    HandleValue v;
    v.handle = facts.handle;
    v.solved = record::ValueOf(solved, facts.handle);
    v.touch = record::ValueOf(touch, facts.handle);
    v.value = v.solved + v.touch;
    std::vector<double> of_light;
    for (const record::Handles& h : light) of_light.push_back(record::ValueOf(h, facts.handle));
    v.of_light = light.empty() ? v.solved : MedianOf(std::move(of_light));
    v.origin = v.touch != 0 ? Origin::kTouched : OriginOf(*row, facts.handle);
    v.sigma = SigmaOf(row->solution.uncertainty, facts.handle);
    values.push_back(v);
  }
  return values;
}

std::vector<RegionRow> Desk::Regions(PhotoId frame, const record::Correction& correction) const {
  const FrameRow* row = impl_->book->Frame(frame);
  if (row == nullptr) return {};
  const auto matched = Matched(row->scan, frame);
  const look::Resolved resolved = look::Resolve(correction);
  std::vector<RegionRow> rows;
  for (const solve::RegionSamples& samples : Samples(*impl_->book, *row, matched.get())) {
    RegionRow r;
    r.kind = samples.kind;
    r.face = samples.face;
    r.name = NameOfRegion(samples.kind, samples.face);
    r.has_scan = samples.has_scan;
    r.lab_scan = samples.lab_scan;
    r.lab_before = samples.lab_before;
    r.lab_frame = solve::LabUnder(samples, resolved);
    r.before = r.has_scan ? color::Ciede2000(r.lab_before, r.lab_scan) : kNone;
    r.now = r.has_scan ? color::Ciede2000(r.lab_frame, r.lab_scan) : kNone;
    r.tolerance = impl_->book->tolerance;
    if (r.has_scan) r.words = report::DifferenceWord(r.kind, r.lab_scan, r.lab_frame, r.now);
    rows.push_back(std::move(r));
  }
  return rows;
}

std::optional<DotMove> Desk::MoveDot(PhotoId frame, const record::Handles& touch, const RegionRow& region,
                                     double a, double b) const {
  const FrameRow* row = impl_->book->Frame(frame);
  const std::optional<record::Correction> correction = CorrectionWith(frame, touch);
  if (row == nullptr || !correction) return std::nullopt;
  const auto matched = Matched(row->scan, frame);
  const std::vector<solve::RegionSamples> samples = Samples(*impl_->book, *row, matched.get());
  for (std::size_t i = 0; i < samples.size(); ++i)
    if (samples[i].kind == region.kind && samples[i].face == region.face)
      return solve::MoveDot(*correction, samples, i, a, b, row->solution.uncertainty);
  return std::nullopt;
}

ToneCurves Desk::Tone(PhotoId frame, const record::Correction& correction) const {
  const FrameRow* row = impl_->book->Frame(frame);
  if (row == nullptr) return {};
  const auto matched = Matched(row->scan, frame);
  return solve::ToneOf(correction, row->photo, impl_->book->Level(frame), matched.get(),
                       !impl_->book->scans.empty());
}

std::vector<PhotoId> Desk::Reach(const Carry& carry) const {
  const FrameRow* from = impl_->book->Frame(carry.from);
  if (from == nullptr) return {};
  std::vector<PhotoId> reach;
  if (carry.to == Carry::To::kSelection) {
    for (const PhotoId id : carry.selection)
      if (id != carry.from && impl_->book->Frame(id) != nullptr) reach.push_back(id);
    return reach;
  }
  if (from->light < 0) return {};
  const auto mine = impl_->book->measured->find(carry.from);
  std::vector<Seen> own;
  if (mine != impl_->book->measured->end()) {
    const look::Resolved resolved = look::Resolve(from->solution.correction);
    own = SeenIn(mine->second, &resolved);
  }
  for (const PhotoId id : impl_->book->lights[static_cast<std::size_t>(from->light)].frames) {
    const FrameRow* row = impl_->book->Frame(id);
    if (id == carry.from || row == nullptr) continue;
    if (carry.to == Carry::To::kLookAlikes) {
      const auto measured = impl_->book->measured->find(id);
      if (measured == impl_->book->measured->end()) continue;
      // As solved, without touches: who was touched already is still alike.
      record::Correction plain = row->solution.correction;
      plain.touch = from->solution.correction.touch;
      const look::Resolved resolved = look::Resolve(plain);
      if (!Alike(own, SeenIn(measured->second, &resolved))) continue;
    }
    reach.push_back(id);
  }
  return reach;
}

std::vector<double> Desk::Apart(const std::vector<PhotoId>& frames) const {
  constexpr std::size_t kLeast = 4;   // frames that show the same kind
  constexpr double kUsualSpread = 3;  // median distances; common practice for what stands out
  std::vector<std::vector<Seen>> seen(frames.size());
  for (std::size_t i = 0; i < frames.size(); ++i) {
    const FrameRow* row = impl_->book->Frame(frames[i]);
    const auto measured = impl_->book->measured->find(frames[i]);
    if (row == nullptr || !row->solved || measured == impl_->book->measured->end()) continue;
    const look::Resolved resolved = look::Resolve(row->solution.correction);
    seen[i] = SeenIn(measured->second, &resolved);
  }
  std::vector<double> apart(frames.size(), 0);
  for (const record::RegionKind kind :
       {record::RegionKind::kSkin, record::RegionKind::kWhiteCloth, record::RegionKind::kNeutral}) {
    std::vector<std::pair<std::size_t, Vec3>> shown;
    for (std::size_t i = 0; i < frames.size(); ++i)
      for (const Seen& one : seen[i])
        if (one.kind == kind) shown.emplace_back(i, one.lab);
    if (shown.size() < kLeast) continue;
    Vec3 middle{};
    for (int c = 0; c < 3; ++c) {
      std::vector<double> values;
      for (const auto& [i, lab] : shown) values.push_back(lab[c]);
      middle[c] = MedianOf(std::move(values));
    }
    std::vector<double> away;
    for (const auto& [i, lab] : shown) away.push_back(color::Ciede2000(lab, middle));
    const double mark = std::max(impl_->book->tolerance, kUsualSpread * MedianOf(away));
    for (std::size_t k = 0; k < shown.size(); ++k)
      apart[shown[k].first] = std::max(apart[shown[k].first], away[k] / mark);
  }
  return apart;
}

Desk::PairTrial Desk::TryPair(PhotoId scan, PhotoId frame) const {
  PairTrial trial;
  const ScanRow* of_scan = impl_->book->Scan(scan);
  const FrameRow* row = impl_->book->Frame(frame);
  if (of_scan == nullptr || row == nullptr) return trial;
  for (const record::PairCandidate& candidate : of_scan->pair.alternatives)
    if (candidate.frame == frame) trial.confidence = candidate.confidence;
  if (of_scan->pair.frame == frame) trial.confidence = of_scan->pair.confidence;
  // Region against region: the places themselves are matched only once the pair is made.
  const auto against = [&](PhotoId other, std::optional<double>& skin, std::optional<double>* all) {
    const FrameRow* with = impl_->book->Frame(other);
    const auto scan_facts = impl_->book->measured->find(scan), facts = impl_->book->measured->find(other);
    if (with == nullptr || !with->solved || scan_facts == impl_->book->measured->end() ||
        facts == impl_->book->measured->end())
      return;
    const look::Resolved resolved = look::Resolve(with->solution.correction);
    std::vector<double> differences;
    const std::vector<Seen> theirs = SeenIn(facts->second, &resolved);
    for (const Seen& one : SeenIn(scan_facts->second, nullptr))
      for (const Seen& two : theirs) {
        if (one.kind != two.kind) continue;
        const double de = color::Ciede2000(one.lab, two.lab);
        differences.push_back(de);
        if (one.kind == record::RegionKind::kSkin) skin = de;
      }
    if (all != nullptr && !differences.empty()) *all = MedianOf(std::move(differences));
  };
  against(frame, trial.skin_then, &trial.all_then);
  if (of_scan->pair.kind != record::PairKind::kNone) against(of_scan->pair.frame, trial.skin_now, nullptr);
  return trial;
}

}  // namespace samelight::job
