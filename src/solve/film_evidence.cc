#include "solve/film_evidence.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <unordered_map>

#include "look/evaluate.h"
#include "solve/in_look.h"
#include "solve/left_over.h"

namespace samelight::solve {
namespace {

constexpr std::size_t kSamplesPerScan = 400;
constexpr std::size_t kFewestSamples = 12;
// Like regions of a scan and of the frames of its light, where no place was matched: together as good as one
// sample that errs by three CIELAB units, since other things are seen in them.
constexpr std::size_t kFewestQuantiles = 6;
constexpr double kLeastConfidence = 0.05;  // of a pair that is hardly believed
constexpr double kRegionTrust = 0.004, kLeastArea = 0.01, kSurePair = 0.9;
constexpr double kSceneClip = 0.92;    // raw value near the white level, not trusted
constexpr double kDisplayClip = 0.93;  // display-linear, about 247 of 255
constexpr double kOtherFrameWeight =
    0.6;  // another moment of the light shows the same things a little differently
constexpr double kDisplayWeight = 0.5;  // camera JPEG: clipped and sharpened

double MaxOf(const float v[3]) { return std::max({v[0], v[1], v[2]}); }

class Gatherer {
 public:
  Gatherer(const Request& request, const Unification& unified) : request_(request), unified_(unified) {
    for (const record::Pair& p : request.pairs) pair_of_scan_[p.scan] = &p;
    for (std::size_t i = 0; i < request.lights.size(); ++i)
      light_index_[request.lights[i].id] = static_cast<int>(i);
    for (std::size_t i = 0; i < request.rolls.size(); ++i)
      for (PhotoId s : request.rolls[i].scans) roll_of_scan_[s] = static_cast<int>(i);
    own_light_only_.insert(request.own_light_only.begin(), request.own_light_only.end());
  }

  FilmEvidence Run() {
    FilmSession& session = out_.session;
    session.rolls = std::max<int>(1, static_cast<int>(request_.rolls.size()));
    session.lights.resize(request_.lights.size());
    for (const record::Light& light : request_.lights) {
      const auto state = unified_.lights.find(light.id);
      session.trends.push_back(TrendOf(state == unified_.lights.end() ? LightState{} : state->second));
    }
    MatchedPlaces();
    for (const auto& [scan, samples] : by_scan_) AddScan(scan, samples, true);
    std::set<int> matched;
    for (const FilmSession::Scan& s : session.scans) matched.insert(s.light);
    for (const record::Pair& pair : request_.pairs) {
      const auto light = unified_.light_of.find(pair.frame);
      if (pair.kind == record::PairKind::kNone || !InLook(request_, pair.scan) ||
          light == unified_.light_of.end() || (pair.confidence < kSurePair && !pair.by_person))
        continue;
      const auto index = light_index_.find(light->second);
      if (index != light_index_.end() && !matched.contains(index->second))
        AddScan(pair.scan, LikeRegions(pair), false);
    }
    for (const FilmSession::Scan& s : session.scans) out_.filmed.insert(s.light);
    return std::move(out_);
  }

 private:
  // A lab takes back part of what the light does over time: only where the cameras say that it does anything.
  static OffsetPrior TrendOf(const LightState& light) {
    constexpr double kPartTaken = 0.4, kSteady = 1e-4;
    return {{0, 0, 0}, kSteady + kPartTaken * light.drift.level, kSteady + kPartTaken * light.drift.colour};
  }

  void MatchedPlaces() {
    for (const record::Correspondence& c : request_.scan_to_frame) {
      const auto pair = pair_of_scan_.find(c.a);
      if (pair == pair_of_scan_.end() || !InLook(request_, c.a)) continue;
      const auto unify = unified_.frames.find(c.b);
      if (unify == unified_.frames.end()) continue;
      record::Correction identity;
      identity.unify = unify->second;
      const look::Resolved resolved = look::Resolve(identity);
      const bool display = identity.unify.display_referred;
      double weight = pair->second->frame == c.b ? 1.0 : kOtherFrameWeight;
      if (display) weight *= kDisplayWeight;
      for (const record::Cell& cell : c.cells) {
        if (cell.region == record::RegionKind::kMasked) continue;
        if (MaxOf(cell.b_rgb) > (display ? kDisplayClip : kSceneClip) || MaxOf(cell.a_rgb) > kDisplayClip)
          continue;
        FilmSample s;
        s.scene = look::Unified(resolved, {cell.b_rgb[0], cell.b_rgb[1], cell.b_rgb[2]});
        s.lab = LabOfDisplay({cell.a_rgb[0], cell.a_rgb[1], cell.a_rgb[2]});
        s.weight =
            weight * cell.weight * (cell.region == record::RegionKind::kSkin ? request_.skin_weight : 1.0);
        by_scan_[c.a].push_back(s);
      }
    }
  }

  // Skin with skin, foliage with foliage, cloth and greys: middle quantiles of the scan's region beside the
  // mean of the same in the frames of its light. Other content, so little trust.
  std::vector<FilmSample> LikeRegions(const record::Pair& pair) const {
    std::vector<FilmSample> out;
    const auto light = unified_.light_of.find(pair.frame);
    const auto scan = request_.measured.find(pair.scan);
    if (light == unified_.light_of.end() || scan == request_.measured.end()) return out;
    for (const record::RegionStat& seen : scan->second.regions) {
      if (seen.face >= 0 || seen.area < kLeastArea) continue;
      using record::RegionKind;
      if (seen.kind != RegionKind::kSkin && seen.kind != RegionKind::kFoliage &&
          seen.kind != RegionKind::kWhiteCloth && seen.kind != RegionKind::kNeutral)
        continue;
      std::array<Vec3, 5> sum{};
      double count = 0;
      for (const auto& [frame, of] : unified_.light_of) {
        const auto m = request_.measured.find(frame);
        if (of != light->second || m == request_.measured.end()) continue;
        for (const record::RegionStat& r : m->second.regions) {
          if (r.kind != seen.kind || r.face >= 0 || r.area < kLeastArea) continue;
          record::Correction identity;
          identity.unify = unified_.frames.at(frame);
          const look::Resolved resolved = look::Resolve(identity);
          for (int q = 1; q <= 3; ++q) {
            const Vec3 scene = look::Unified(resolved, r.quantiles[q]);
            for (int c = 0; c < 3; ++c) sum[q][c] += std::log(look::PositiveExposure(scene[c]));
          }
          ++count;
        }
      }
      for (int q = 1; q <= 3 && count > 0; ++q) {
        const Vec3& shown = seen.quantiles[q];
        if (std::max({shown[0], shown[1], shown[2]}) > kDisplayClip) continue;
        FilmSample s;
        for (int c = 0; c < 3; ++c) s.scene[c] = std::exp(sum[q][c] / count);
        s.lab = LabOfDisplay(shown);
        s.weight = seen.kind == RegionKind::kSkin ? request_.skin_weight : 1.0;
        out.push_back(s);
      }
    }
    return out;
  }

  void AddScan(PhotoId scan, const std::vector<FilmSample>& samples, bool matched) {
    const record::Pair& pair = *pair_of_scan_[scan];
    const auto light = unified_.light_of.find(pair.frame);
    if (samples.size() < (matched ? kFewestSamples : kFewestQuantiles) || light == unified_.light_of.end() ||
        !light_index_.contains(light->second))
      return;
    FilmSession::Scan entry;
    entry.light = light_index_[light->second];
    entry.roll = roll_of_scan_.contains(scan) ? roll_of_scan_[scan] : 0;
    entry.place = unified_.place.at(pair.frame);
    entry.matched = matched;
    entry.trust = matched ? 1 : kRegionTrust;
    entry.confidence = pair.by_person ? 1 : std::max(kLeastConfidence, pair.confidence);
    entry.loose = unified_.loose.contains(pair.frame);
    entry.own_light_only = own_light_only_.contains(scan);
    if (const auto shown = unified_.content.find(pair.frame); shown != unified_.content.end() && matched) {
      const LightState& state = unified_.lights.at(light->second);
      entry.level = shown->second.level_log10 - state.level_log10;
      for (int c = 0; c < 3; ++c) entry.grey[c] = shown->second.grey_log10[c] - state.grey_log10[c];
    }
    const int index = static_cast<int>(out_.session.scans.size());
    out_.session.scans.push_back(entry);
    out_.scans.push_back(scan);
    const double step = std::max(1.0, static_cast<double>(samples.size()) / kSamplesPerScan);
    for (double at = 0; at < static_cast<double>(samples.size()); at += step) {
      FilmSample s = samples[static_cast<std::size_t>(at)];
      s.scan = index;
      out_.session.samples.push_back(s);
    }
  }

  const Request& request_;
  const Unification& unified_;
  FilmEvidence out_;
  std::map<PhotoId, std::vector<FilmSample>> by_scan_;
  std::unordered_map<PhotoId, const record::Pair*> pair_of_scan_;
  std::unordered_map<PhotoId, int> roll_of_scan_;
  std::set<PhotoId> own_light_only_;
  std::unordered_map<LightId, int> light_index_;
};

}  // namespace

FilmEvidence GatherFilm(const Request& request, const Unification& unified) {
  return Gatherer(request, unified).Run();
}

}  // namespace samelight::solve
