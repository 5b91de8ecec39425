#include "pair/digital.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "base/groups.h"
#include "pair/across.h"
#include "pair/clock.h"
#include "pair/lights.h"
#include "pair/subject.h"

namespace samelight::pair {
namespace {

constexpr int kLinksPerFrame = 4;
constexpr std::size_t kLonely = 4;        // frames in a part of a light that is tried against the rest
constexpr std::size_t kLonelyTried = 12;  // nearest frames of the rest

// Luminance of the scene in stops: what the picture shows, less what the exposure gave it.
std::optional<double> Brightness(const Item& item) {
  const record::Capture& c = item.photo->capture;
  if (!c.exposure_time_s || !c.aperture || !c.iso) return std::nullopt;
  if (!(*c.exposure_time_s > 0) || !(*c.aperture > 0) || !(*c.iso > 0)) return std::nullopt;
  return item.facts->measured.light.log2_level +
         std::log2(*c.aperture * *c.aperture / *c.exposure_time_s / (*c.iso / 100));
}

// How far the light estimate tells the light. A raw file's rests on the camera's own measurement; a rendered
// picture was balanced by the camera, what is left in it is mostly its subject.
double WhiteTrust(const Item& item) {
  const double confidence = item.facts->measured.light.confidence;
  return item.photo->encoding == record::Encoding::kRaw ? 0.5 + 0.5 * confidence : 0.15 * confidence;
}

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
    m.white_trust = WhiteTrust(item);
    m.brightness_ev = Brightness(item);
    m.backlight_ev = BacklightOf(item.facts->measured);
    m.flash = item.photo->capture.flash;
    m.shadow_warmth = ShadowWarmthOf(item.facts->measured);
    moments.push_back(m);
    frame_index[item.photo->id] = i;
  }
  std::vector<Link> links;
  for (const FrameLink& l : digital.links) links.emplace_back(digital.place[l.a], digital.place[l.b]);
  std::vector<int> starts;
  for (PhotoId id : request.word.light_starts)
    if (const auto it = frame_index.find(id); it != frame_index.end())
      starts.push_back(digital.place[it->second]);
  digital.light = SegmentLights(moments, links, starts, &digital.flash_guessed);
  JoinByWord(request.word, frame_index, digital);
  Renumber(digital.light);
}

// Frames that no link joins to the rest of their light are tried against all of it.
void LinkLonely(const std::vector<View>& views, Digital& digital, Kept& kept, Progress& progress,
                const Cancel& cancel) {
  const int n = static_cast<int>(views.size());
  Groups linked(n);
  for (const FrameLink& l : digital.links)
    if (digital.LightOf(l.a) == digital.LightOf(l.b)) linked.Join(l.b, l.a);
  std::map<int, std::map<int, std::vector<int>>> groups;  // light -> root -> frames
  for (int p = 0; p < n; ++p) {
    const int f = digital.timeline.order[p];
    groups[digital.light[p]][linked.Of(f)].push_back(f);
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
  VerifyLinks(views, candidates, digital.links, kept, progress, cancel);
}

}  // namespace

Error Stopped() { return {ErrorCode::kCancelled, "pairing was stopped", "", ""}; }

Result<Digital> ReadDigital(const Request& request, const std::vector<View>& views, Kept& kept,
                            Progress& progress, const Cancel& cancel) {
  Digital digital;
  if (views.empty()) return digital;
  std::vector<const record::Photo*> photos;
  for (const Item& i : request.frames) photos.push_back(i.photo);
  digital.links = LinkFrames(views, photos, kept, progress, cancel);
  if (cancel.requested()) return Stopped();
  std::vector<std::optional<double>> times;
  SetClocks(request, photos, digital, times);
  std::vector<Kin> kin;
  for (const FrameLink& l : digital.links)
    kin.push_back({l.a, l.b, static_cast<double>(l.verified.inliers.size())});
  digital.timeline = OrderFrames(photos, times, kin);
  digital.place.resize(views.size());
  for (std::size_t p = 0; p < views.size(); ++p)
    digital.place[digital.timeline.order[p]] = static_cast<int>(p);
  VerifyLinks(views, AcrossSteps(digital.timeline, digital.links), digital.links, kept, progress, cancel);
  FindLights(request, digital);
  LinkLonely(views, digital, kept, progress, cancel);
  if (cancel.requested()) return Stopped();
  return digital;
}

std::vector<record::Light> LightRecords(const Request& request, const Digital& digital) {
  std::vector<record::Light> out;
  std::vector<std::vector<std::pair<double, double>>> mireds, duvs;  // value, trust
  std::vector<std::size_t> narrow;
  for (std::size_t p = 0; p < digital.light.size(); ++p) {
    const std::size_t l = digital.light[p];
    if (l >= out.size()) {
      out.push_back(
          {LightId{static_cast<std::int64_t>(l)}, "light " + std::to_string(l + 1), {}, {}, 0, 0, false});
      mireds.emplace_back();
      duvs.emplace_back();
      narrow.push_back(0);
    }
    const Item& item = request.frames[digital.timeline.order[p]];
    out[l].frames.push_back(item.photo->id);
    narrow[l] += LooksNarrowBand(item.facts->measured, item.photo->encoding == record::Encoding::kRaw);
    const record::LightEstimate& e = item.facts->measured.light;
    mireds[l].emplace_back(e.mired, WhiteTrust(item) + 1e-3);
    duvs[l].emplace_back(e.duv, WhiteTrust(item) + 1e-3);
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
    out[l].narrow_band = 2 * narrow[l] > out[l].frames.size();
    out[l].duv = median(duvs[l]);
  }
  return out;
}

std::vector<const FrameLink*> LinksForCells(const Request& request, const Digital& digital) {
  std::vector<const FrameLink*> inside;
  for (const FrameLink& l : digital.links)
    if (digital.LightOf(l.a) == digital.LightOf(l.b)) inside.push_back(&l);
  const auto mixed = [&](const FrameLink& l) {
    return record::SourceName(*request.frames[l.a].photo) != record::SourceName(*request.frames[l.b].photo);
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
  std::stable_sort(out.begin(), out.end(), [&](const FrameLink* x, const FrameLink* y) {
    return digital.place[x->a] < digital.place[y->a];
  });
  return out;
}

}  // namespace samelight::pair
