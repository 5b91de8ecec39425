#include "pair/pairing.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <numeric>
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

constexpr int kScanFeatures = 1000;
constexpr int kFurtherFrames = 4;  // matched to a scan besides its own
constexpr std::size_t kFurtherTried = 16;
constexpr int kScanCells = 1500, kFurtherCells = 600, kFrameCells = 260;
constexpr int kLinksPerFrame = 4;
constexpr std::size_t kLonely = 4;        // frames in a part of a light that is tried against the rest
constexpr std::size_t kLonelyTried = 12;  // nearest frames of the rest

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

// Frames that no link joins to the rest of their light are tried against all of it.
void LinkLonely(const std::vector<View>& views, Digital& digital, Progress& progress, const Cancel& cancel) {
  const int n = static_cast<int>(views.size());
  std::vector<int> parent(n);
  std::iota(parent.begin(), parent.end(), 0);
  const std::function<int(int)> root = [&](int i) {
    return parent[i] == i ? i : parent[i] = root(parent[i]);
  };
  for (const FrameLink& l : digital.links)
    if (digital.light[digital.place[l.a]] == digital.light[digital.place[l.b]]) parent[root(l.a)] = root(l.b);
  std::map<int, std::map<int, std::vector<int>>> groups;  // light -> root -> frames
  for (int p = 0; p < n; ++p) {
    const int f = digital.timeline.order[p];
    groups[digital.light[p]][root(f)].push_back(f);
  }
  std::set<std::pair<int, int>> candidates;
  for (const auto& [light, parts] : groups)
    for (const auto& [r, part] : parts)
      for (const auto& [r2, other] : parts) {
        if (r2 <= r || std::min(part.size(), other.size()) > kLonely) continue;
        const std::vector<int>&few = part.size() < other.size() ? part : other,
              &many = &few == &part ? other : part;
        for (int f : few) {
          std::vector<int> near = many;
          std::stable_sort(near.begin(), near.end(), [&](int a, int b) {
            return std::abs(digital.place[a] - digital.place[f]) <
                   std::abs(digital.place[b] - digital.place[f]);
          });
          if (near.size() > kLonelyTried) near.resize(kLonelyTried);
          for (int m : near) candidates.insert(std::minmax(f, m));
        }
      }
  VerifyLinks(views, candidates, digital.links, progress, cancel);
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

// What the pictures say of one scan, by place in the timeline.
ScanView Known(const View& scan, const std::vector<View>& frames, const std::vector<Checked>& checked,
               const Digital& digital) {
  ScanView out;
  const std::size_t n = frames.size();
  out.log_ratio.assign(n, kUnverifiedLogRatio);
  out.verified.assign(n, false);
  double most = 0;
  for (const Checked& c : checked)
    if (Verifies(c.verified)) most = std::max(most, Shared(c.verified));
  for (const Checked& c : checked) {
    out.log_ratio[digital.place[c.frame]] = MomentLogRatio(c.verified, most);
    out.verified[digital.place[c.frame]] = Verifies(c.verified);
  }
  for (int f : digital.timeline.order)
    out.likeness.push_back(GlobalSimilarity(*scan.features, *frames[f].features));
  return out;
}

// Frames (request indices) worth trying for more correspondences of a scan paired with `frame`: the most
// promising of its light, the frame itself first.
std::vector<int> FurtherCandidates(const std::vector<double>& promise, const std::vector<int>& light_of_frame,
                                   int frame) {
  std::vector<int> out;
  for (int f = 0; f < static_cast<int>(promise.size()); ++f)
    if (f != frame && light_of_frame[f] == light_of_frame[frame]) out.push_back(f);
  std::stable_sort(out.begin(), out.end(), [&](int a, int b) { return promise[a] > promise[b]; });
  out.insert(out.begin(), frame);
  if (out.size() > kFurtherTried) out.resize(kFurtherTried);
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
    LinkLonely(frame_views, digital, progress, cancel);
    if (cancel.requested()) return Stopped();
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
  for (const auto& [s, f] : request.word.refused)
    if (scan_of.count(s) && frame_of.count(f)) refused[scan_of[s]][digital.place[frame_of[f]]] = true;
  const std::vector<std::vector<double>> promise = CompareCheaply(scan_views, frame_views, progress, cancel);
  if (cancel.requested()) return Stopped();
  std::vector<int> light_of_frame(frames);
  for (int i = 0; i < frames; ++i) light_of_frame[i] = digital.light[digital.place[i]];
  std::vector<std::vector<Checked>> checked(scans);
  progress.Begin("verifying pairs", scans);
  ParallelFor(scans, cancel, [&](std::size_t i) {
    std::vector<int> candidates = Shortlist(promise[i], light_of_frame);
    if (joined[i] >= 0 && std::find(candidates.begin(), candidates.end(), joined[i]) == candidates.end())
      candidates.push_back(joined[i]);
    for (int f : candidates) {
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
  std::vector<double> place_time(frames, std::numeric_limits<double>::quiet_NaN());
  for (int p = 0; p < frames; ++p)
    if (const auto& t = digital.timeline.time_s[digital.timeline.order[p]]) place_time[p] = *t;
  std::vector<int> paired(scans, -1);  // index of the frame in the request
  out.pairs.resize(scans);
  for (auto& [roll, members] : rolls) {
    std::stable_sort(members.begin(), members.end(), [&](int a, int b) {
      return request.scans[a].photo->roll_position < request.scans[b].photo->roll_position;
    });
    std::vector<ScanView> known;
    LogRatios ratios;
    for (int i : members) {
      ScanView scan = Known(scan_views[i], frame_views, checked[i], digital);
      scan.refused = refused[i];
      if (joined[i] >= 0) scan.joined = digital.place[joined[i]];
      std::vector<double> row = scan.log_ratio;
      for (int p = 0; p < frames; ++p)
        if (scan.refused[p]) row[p] = -30;
      if (scan.joined >= 0) row[scan.joined] = 30;
      ratios.push_back(std::move(row));
      known.push_back(std::move(scan));
    }
    Alignment alignment = AlignRoll(ratios);
    for (std::size_t k = 0; k < members.size(); ++k) known[k].match = std::move(alignment.match[k]);
    const std::vector<Answer> answers = Decide(known, digital.light, place_time);
    for (std::size_t k = 0; k < members.size(); ++k) {
      const int i = members[k];
      const auto id_at = [&](int p) { return request.frames[digital.timeline.order[p]].photo->id; };
      record::Pair& pair = out.pairs[i];
      const Answer& answer = answers[k];
      pair.scan = request.scans[i].photo->id;
      pair.kind = answer.choice.kind;
      pair.confidence = answer.choice.confidence;
      pair.by_person = answer.by_person;
      for (const Choice& c : answer.others)
        pair.alternatives.push_back({id_at(c.frame), c.kind, c.confidence});
      if (answer.choice.frame < 0) continue;
      pair.frame = id_at(answer.choice.frame);
      paired[i] = digital.timeline.order[answer.choice.frame];
      out.lights[digital.light[answer.choice.frame]].scans.push_back(pair.scan);
    }
    if (cancel.requested()) return Stopped();
  }

  // More frames of the light that show what a scan shows.
  std::vector<std::vector<Checked>> matched(scans);
  progress.Begin("finding more frames of each moment", scans);
  ParallelFor(scans, cancel, [&](std::size_t i) {
    if (paired[i] >= 0) {
      std::map<int, Verified> known;
      for (Checked& c : checked[i]) known[c.frame] = std::move(c.verified);
      for (int f : FurtherCandidates(promise[i], light_of_frame, paired[i])) {
        if (refused[i][digital.place[f]]) continue;
        const auto it = known.find(f);
        Verified v = it != known.end() ? it->second : Verify(scan_views[i], frame_views[f], kScanFeatures);
        if (GoodForCells(v)) matched[i].push_back({f, std::move(v)});
      }
      std::stable_sort(matched[i].begin(), matched[i].end(), [&](const Checked& x, const Checked& y) {
        if ((x.frame == paired[i]) != (y.frame == paired[i])) return x.frame == paired[i];
        return Shared(x.verified) > Shared(y.verified);
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
