#include "pair/pairing.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/core.hpp>
#include <set>

#include "base/task_pool.h"
#include "pair/align.h"
#include "pair/clock.h"
#include "pair/correspond.h"
#include "pair/decide.h"
#include "pair/evidence.h"
#include "pair/frame_graph.h"
#include "pair/lights.h"
#include "pair/shortlist.h"
#include "pair/timeline.h"
#include "pair/verify.h"

namespace samelight::pair {
namespace {

constexpr int kCandidates = 15;  // frames verified per scan
constexpr int kScanFeatures = 1000;
constexpr int kFurtherFrames = 4;  // matched to a scan besides its own
constexpr int kFurtherTried = 16;
constexpr int kScanCells = 1500, kFurtherCells = 600, kFrameCells = 260;
constexpr int kLinksPerFrame = 4;

Error Stopped() { return {ErrorCode::kCancelled, "pairing was stopped", "", ""}; }

const record::Photo& PhotoOf(const Item& item) { return *item.photo; }

std::vector<View> Views(const std::vector<Item>& items) {
  std::vector<View> out;
  for (const Item& i : items) out.emplace_back(i.facts->features, i.photo->width_px, i.photo->height_px);
  return out;
}

// Luminance of the scene in stops: what the picture shows, less what the exposure gave it.
std::optional<double> Brightness(const Item& item) {
  const record::Capture& c = item.photo->capture;
  if (!c.exposure_time_s || !c.aperture || !c.iso) return std::nullopt;
  if (!(*c.exposure_time_s > 0) || !(*c.aperture > 0) || !(*c.iso > 0)) return std::nullopt;
  return item.facts->measured.light.log2_level +
         std::log2(*c.aperture * *c.aperture / *c.exposure_time_s / (*c.iso / 100));
}

// Everything about the digital side, frames by index in the request.
struct Digital {
  std::vector<FrameLink> links;
  std::vector<BodyClock> clocks;
  Timeline timeline;
  std::vector<int> place;  // frame -> place in the order
  std::vector<int> light;  // by place
};

void SetClocks(const Request& request, const std::vector<const record::Photo*>& photos, Digital& digital,
               std::vector<std::optional<double>>& times) {
  std::map<std::string, int> count;
  for (const record::Photo* p : photos) ++count[BodyName(*p)];
  std::vector<std::string> bodies;
  for (const auto& [name, frames] : count) bodies.push_back(name);
  std::stable_sort(bodies.begin(), bodies.end(),
                   [&](const auto& a, const auto& b) { return count[a] > count[b]; });
  std::map<std::string, int> index;
  for (std::size_t b = 0; b < bodies.size(); ++b) index[bodies[b]] = static_cast<int>(b);
  std::vector<ClockLink> votes;
  for (const FrameLink& l : digital.links) {
    const record::Capture &ca = photos[l.a]->capture, &cb = photos[l.b]->capture;
    const int a = index[BodyName(*photos[l.a])], b = index[BodyName(*photos[l.b])];
    if (a == b || !ca.time_us || !cb.time_us) continue;
    votes.push_back({a, b, static_cast<double>(*cb.time_us - *ca.time_us) * 1e-6,
                     std::min(1.0, l.verified.evidence / 60) * l.verified.inlier_ratio * 4});
  }
  const std::vector<ClockOffset> offsets = EstimateClocks(static_cast<int>(bodies.size()), votes);
  for (std::size_t b = 0; b < bodies.size(); ++b) {
    const auto word = request.word.body_offset_s.find(bodies[b]);
    if (word != request.word.body_offset_s.end())
      digital.clocks.push_back({bodies[b], word->second, 1});
    else
      digital.clocks.push_back({bodies[b], offsets[b].offset_s, offsets[b].confidence});
  }
  times.resize(photos.size());
  for (std::size_t i = 0; i < photos.size(); ++i)
    if (photos[i]->capture.time_us)
      times[i] = static_cast<double>(*photos[i]->capture.time_us) * 1e-6 +
                 digital.clocks[index[BodyName(*photos[i])]].offset_s;
}

// A person's groups: a light of which most frames are in the group joins it as a whole; other frames of the
// group move.
void JoinByWord(const PersonsWord& word, const std::unordered_map<PhotoId, int>& frame_index,
                Digital& digital) {
  for (const std::vector<PhotoId>& group : word.lights) {
    std::map<int, int> inside, all;
    std::vector<int> members;
    for (PhotoId id : group)
      if (const auto it = frame_index.find(id); it != frame_index.end())
        members.push_back(digital.place[it->second]);
    if (members.empty()) continue;
    for (int l : digital.light) ++all[l];
    for (int p : members) ++inside[digital.light[p]];
    const int fresh = *std::max_element(digital.light.begin(), digital.light.end()) + 1;
    for (int& l : digital.light)
      if (2 * inside[l] > all[l]) l = fresh;
    for (int p : members) digital.light[p] = fresh;
  }
}

void Renumber(std::vector<int>& labels) {
  std::map<int, int> name;
  for (int& l : labels) l = name.emplace(l, static_cast<int>(name.size())).first->second;
}

void FindLights(const Request& request, Digital& digital) {
  std::vector<Moment> moments;
  std::unordered_map<PhotoId, int> frame_index;
  for (int i : digital.timeline.order) {
    const Item& item = request.frames[i];
    const record::LightEstimate& light = item.facts->measured.light;
    Moment m;
    m.time_s = digital.timeline.time_s[i];
    m.mired = light.mired;
    m.duv = light.duv;
    m.white_trust = light.confidence;
    m.brightness_ev = Brightness(item);
    m.flash = item.photo->capture.flash.value_or(false);
    moments.push_back(m);
    frame_index[item.photo->id] = i;
  }
  std::vector<Link> links;
  for (const FrameLink& l : digital.links) links.emplace_back(digital.place[l.a], digital.place[l.b]);
  std::vector<int> starts;
  for (PhotoId id : request.word.light_starts)
    if (const auto it = frame_index.find(id); it != frame_index.end())
      starts.push_back(digital.place[it->second]);
  digital.light = SegmentLights(moments, links, starts);
  JoinByWord(request.word, frame_index, digital);
  Renumber(digital.light);
}

std::vector<record::Light> LightRecords(const Request& request, const Digital& digital) {
  std::vector<record::Light> out;
  std::vector<std::vector<std::pair<double, double>>> mireds, duvs;  // value, trust
  for (std::size_t p = 0; p < digital.light.size(); ++p) {
    const std::size_t l = digital.light[p];
    if (l >= out.size()) {
      out.push_back({LightId{static_cast<std::int64_t>(l)}, "light " + std::to_string(l + 1), {}, {}, 0, 0});
      mireds.emplace_back();
      duvs.emplace_back();
    }
    const Item& item = request.frames[digital.timeline.order[p]];
    out[l].frames.push_back(item.photo->id);
    const record::LightEstimate& e = item.facts->measured.light;
    mireds[l].emplace_back(e.mired, e.confidence + 1e-3);
    duvs[l].emplace_back(e.duv, e.confidence + 1e-3);
  }
  const auto median = [](std::vector<std::pair<double, double>>& v) {
    std::sort(v.begin(), v.end());
    double total = 0, run = 0;
    for (const auto& [value, trust] : v) total += trust;
    for (const auto& [value, trust] : v)
      if ((run += trust) >= total / 2) return value;
    return 0.0;
  };
  for (std::size_t l = 0; l < out.size(); ++l) {
    out[l].mired = median(mireds[l]);
    out[l].duv = median(duvs[l]);
  }
  return out;
}

struct Checked {
  int frame = 0;  // index in the request
  Verified verified;
};

// Frames (request indices) worth trying for more correspondences of a scan paired with `frame`: linked to it,
// then near in time, all of its light.
std::vector<int> FurtherCandidates(const Digital& digital, int frame) {
  const int place = digital.place[frame], light = digital.light[place];
  std::vector<std::pair<double, int>> ranked;
  std::set<int> linked;
  for (const FrameLink& l : digital.links) {
    if (l.a == frame) linked.insert(l.b);
    if (l.b == frame) linked.insert(l.a);
  }
  for (std::size_t p = 0; p < digital.light.size(); ++p) {
    const int f = digital.timeline.order[p];
    if (f == frame || digital.light[p] != light) continue;
    ranked.emplace_back(std::abs(static_cast<double>(p) - place) * (linked.count(f) ? 0.2 : 1.0), f);
  }
  std::sort(ranked.begin(), ranked.end());
  std::vector<int> out;
  for (const auto& [rank, f] : ranked)
    if (static_cast<int>(out.size()) < kFurtherTried) out.push_back(f);
  return out;
}

CellJob Job(const Item& a, const View& va, const Item& b, const View& vb, const Verified& verified,
            int most) {
  CellJob job{a.photo->id, b.photo->id, va.width, va.height, vb.width, vb.height, verified, most};
  return job;
}

// Links inside lights, few per frame: those to other sources first, then the strongest.
std::vector<const FrameLink*> ChooseLinks(const Request& request, const Digital& digital) {
  std::vector<const FrameLink*> inside;
  for (const FrameLink& l : digital.links)
    if (digital.light[digital.place[l.a]] == digital.light[digital.place[l.b]]) inside.push_back(&l);
  const auto mixed = [&](const FrameLink& l) {
    return record::SourceName(PhotoOf(request.frames[l.a])) !=
           record::SourceName(PhotoOf(request.frames[l.b]));
  };
  std::vector<int> order(inside.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = static_cast<int>(i);
  std::stable_sort(order.begin(), order.end(), [&](int x, int y) {
    const bool mx = mixed(*inside[x]), my = mixed(*inside[y]);
    if (mx != my) return mx;
    return inside[x]->verified.inliers.size() > inside[y]->verified.inliers.size();
  });
  std::vector<int> degree(request.frames.size(), 0);
  std::vector<bool> kept(inside.size(), false);
  // Mixed links may fill half of a frame's share, so that frames of one source stay connected too.
  for (int i : order) {
    const FrameLink& l = *inside[i];
    const int share = mixed(l) ? kLinksPerFrame / 2 : kLinksPerFrame;
    if (degree[l.a] >= share && degree[l.b] >= share) continue;
    kept[i] = true;
    ++degree[l.a];
    ++degree[l.b];
  }
  std::vector<const FrameLink*> out;
  for (std::size_t i = 0; i < inside.size(); ++i)
    if (kept[i]) out.push_back(inside[i]);
  return out;
}

}  // namespace

Result<Pairing> PairSession(const Request& request, Progress& progress, const Cancel& cancel) {
  cv::setNumThreads(1);  // the work is spread over pictures already
  Pairing out;
  const std::vector<View> scan_views = Views(request.scans), frame_views = Views(request.frames);
  const int scans = static_cast<int>(request.scans.size()), frames = static_cast<int>(request.frames.size());
  std::vector<const record::Photo*> photos;
  for (const Item& i : request.frames) photos.push_back(i.photo);

  Digital digital;
  if (frames > 0) {
    digital.links = LinkFrames(frame_views, photos, progress, cancel);
    if (cancel.requested()) return Stopped();
    std::vector<std::optional<double>> times;
    SetClocks(request, photos, digital, times);
    std::vector<Kin> kin;
    for (const FrameLink& l : digital.links)
      kin.push_back({l.a, l.b, static_cast<double>(l.verified.inliers.size())});
    digital.timeline = OrderFrames(photos, times, kin);
    digital.place.resize(frames);
    for (int p = 0; p < frames; ++p) digital.place[digital.timeline.order[p]] = p;
    FindLights(request, digital);
    out.lights = LightRecords(request, digital);
    out.clocks = digital.clocks;
  }
  if (frames == 0) {
    for (const Item& s : request.scans)
      out.pairs.push_back({s.photo->id, PhotoId{}, record::PairKind::kNone, 1, false, {}});
    return out;
  }

  // Verify the best candidates of each scan, and whatever a person joined.
  std::map<PhotoId, int> frame_of, scan_of;
  for (int i = 0; i < frames; ++i) frame_of[request.frames[i].photo->id] = i;
  for (int i = 0; i < scans; ++i) scan_of[request.scans[i].photo->id] = i;
  std::vector<int> joined(scans, -1);
  for (const auto& [s, f] : request.word.joined)
    if (scan_of.count(s) && frame_of.count(f)) joined[scan_of[s]] = frame_of[f];
  std::vector<std::vector<bool>> refused(scans, std::vector<bool>(frames, false));  // by place
  std::vector<bool> word_given(scans, false);
  for (const auto& [s, f] : request.word.refused)
    if (scan_of.count(s) && frame_of.count(f)) {
      refused[scan_of[s]][digital.place[frame_of[f]]] = true;
      word_given[scan_of[s]] = true;
    }
  std::vector<std::vector<int>> candidates =
      Shortlist(scan_views, frame_views, kCandidates, progress, cancel);
  if (cancel.requested()) return Stopped();
  std::vector<std::vector<Checked>> checked(scans);
  progress.Begin("verifying pairs", scans);
  ParallelFor(scans, cancel, [&](std::size_t i) {
    if (joined[i] >= 0 &&
        std::find(candidates[i].begin(), candidates[i].end(), joined[i]) == candidates[i].end())
      candidates[i].push_back(joined[i]);
    for (int f : candidates[i]) {
      Verified v = Verify(scan_views[i], frame_views[f], kScanFeatures);
      checked[i].push_back({f, std::move(v)});
    }
    progress.Advance(1);
  });
  progress.End();
  if (cancel.requested()) return Stopped();

  // Each roll against the timeline.
  std::map<RollId, std::vector<int>> rolls;
  for (int i = 0; i < scans; ++i) rolls[request.scans[i].photo->roll].push_back(i);
  std::vector<ScanView> knowledge(scans);
  for (auto& [roll, members] : rolls) {
    std::stable_sort(members.begin(), members.end(), [&](int a, int b) {
      return request.scans[a].photo->roll_position < request.scans[b].photo->roll_position;
    });
    LogRatios ratios;
    for (int i : members) {
      std::vector<double> row(frames, kUnverifiedLogRatio);
      for (const Checked& c : checked[i]) row[digital.place[c.frame]] = MomentLogRatio(c.verified);
      knowledge[i].log_ratio = row;
      for (int p = 0; p < frames; ++p)
        if (refused[i][p]) row[p] = -30;
      if (joined[i] >= 0) row[digital.place[joined[i]]] = 30;
      ratios.push_back(std::move(row));
    }
    Alignment alignment = AlignRoll(ratios);
    for (std::size_t k = 0; k < members.size(); ++k) {
      knowledge[members[k]].match = std::move(alignment.match[k]);
      knowledge[members[k]].place = std::move(alignment.place[k]);
    }
    if (cancel.requested()) return Stopped();
  }

  // Answers.
  std::vector<int> paired(scans, -1);  // request index of the frame
  for (int i = 0; i < scans; ++i) {
    ScanView& k = knowledge[i];
    for (int p = 0; p < frames; ++p)
      k.likeness.push_back(
          GlobalSimilarity(*scan_views[i].features, *frame_views[digital.timeline.order[p]].features));
    const Answer answer = Decide(k, digital.light, refused[i]);
    const auto id_at = [&](int p) { return request.frames[digital.timeline.order[p]].photo->id; };
    record::Pair pair;
    pair.scan = request.scans[i].photo->id;
    pair.kind = answer.kind;
    pair.confidence = answer.confidence;
    pair.by_person = word_given[i];
    if (answer.frame >= 0) {
      pair.frame = id_at(answer.frame);
      paired[i] = digital.timeline.order[answer.frame];
    }
    for (const Answer::Other& o : answer.others)
      pair.alternatives.push_back({id_at(o.frame), o.kind, o.confidence});
    if (joined[i] >= 0) {
      paired[i] = joined[i];
      pair.frame = request.frames[joined[i]].photo->id;
      pair.kind = record::PairKind::kMoment;
      pair.confidence = 1;
      pair.by_person = true;
      std::erase_if(pair.alternatives, [&](const record::PairCandidate& c) { return c.frame == pair.frame; });
    }
    out.pairs.push_back(std::move(pair));
  }
  for (const auto& [roll, members] : rolls)
    for (int i : members)
      if (paired[i] >= 0)
        out.lights[digital.light[digital.place[paired[i]]]].scans.push_back(request.scans[i].photo->id);

  // More frames of the light that show what a scan shows.
  std::vector<std::vector<Checked>> matched(scans);
  progress.Begin("finding more frames of each moment", scans);
  ParallelFor(scans, cancel, [&](std::size_t i) {
    if (paired[i] >= 0) {
      std::map<int, Verified> known;
      for (Checked& c : checked[i]) known[c.frame] = std::move(c.verified);
      std::vector<int> tries = FurtherCandidates(digital, paired[i]);
      tries.insert(tries.begin(), paired[i]);
      for (int f : tries) {
        if (refused[i][digital.place[f]]) continue;
        const auto it = known.find(f);
        Verified v = it != known.end() ? it->second : Verify(scan_views[i], frame_views[f], kScanFeatures);
        if (GoodForCells(v)) matched[i].push_back({f, std::move(v)});
      }
      std::stable_sort(matched[i].begin(), matched[i].end(), [&](const Checked& x, const Checked& y) {
        if ((x.frame == paired[i]) != (y.frame == paired[i])) return x.frame == paired[i];
        return x.verified.inliers.size() > y.verified.inliers.size();
      });
      if (matched[i].size() > kFurtherFrames + 1) matched[i].resize(kFurtherFrames + 1);
    }
    progress.Advance(1);
  });
  progress.End();
  if (cancel.requested()) return Stopped();

  std::vector<CellJob> jobs;
  for (int i = 0; i < scans; ++i)
    for (const Checked& c : matched[i])
      jobs.push_back(Job(request.scans[i], scan_views[i], request.frames[c.frame], frame_views[c.frame],
                         c.verified, c.frame == paired[i] ? kScanCells : kFurtherCells));
  const std::size_t of_scans = jobs.size();
  std::vector<const FrameLink*> links = ChooseLinks(request, digital);
  std::stable_sort(links.begin(), links.end(), [&](const FrameLink* x, const FrameLink* y) {
    return digital.place[x->a] < digital.place[y->a];
  });
  for (const FrameLink* l : links)
    jobs.push_back(Job(request.frames[l->a], frame_views[l->a], request.frames[l->b], frame_views[l->b],
                       l->verified, kFrameCells));
  std::vector<record::Correspondence> done = Correspond(jobs, request.load, progress, cancel);
  if (cancel.requested()) return Stopped();
  for (std::size_t k = 0; k < done.size(); ++k) {
    if (done[k].cells.empty()) continue;
    (k < of_scans ? out.scan_to_frame : out.frame_to_frame).push_back(std::move(done[k]));
  }
  return out;
}

}  // namespace samelight::pair
