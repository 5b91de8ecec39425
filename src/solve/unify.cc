#include "solve/unify.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "base/groups.h"
#include "solve/exposures.h"
#include "solve/light_state.h"
#include "solve/sources.h"

namespace samelight::solve {
namespace {

// Frames of one light that chains of matches tie together.
Groups TiedFrames(const FrameSet& set) {
  Groups linked(static_cast<int>(set.frames.size()));
  for (const record::Correspondence& c : set.request.frame_to_frame) {
    const auto a = set.index.find(c.a), b = set.index.find(c.b);
    if (a == set.index.end() || b == set.index.end()) continue;
    if (set.frames[a->second].light == set.frames[b->second].light) linked.Join(b->second, a->second);
  }
  return linked;
}

std::unordered_map<PhotoId, int> LooseFrames(const FrameSet& set, Groups& linked) {
  std::set<int> tied;
  for (int i = 0; i < static_cast<int>(set.frames.size()); ++i)
    if (!set.frames[i].display) tied.insert(linked.Of(i));
  std::unordered_map<PhotoId, int> loose;
  if (!tied.empty())  // else there is nothing to be tied to
    for (int i = 0; i < static_cast<int>(set.frames.size()); ++i)
      if (!tied.contains(linked.Of(i))) loose[set.frames[i].photo->id] = linked.Of(i);
  return loose;
}

// A frame whose light film saw only beside another body's frames, to which nothing ties it: two bodies
// see one light apart by about 0.13 of its colour, log10 (blue by lamps, where a sensor is unlike the others;
// over 22 such lights of simulated sessions kept apart from tuning; a tenth of that in usual ones).
void DoubtOtherBodies(const FrameSet& set, Groups& linked, Unification& u) {
  constexpr double kBodiesApart = 0.13;
  std::map<LightId, std::set<std::string>> sources;  // beside film
  std::set<int> groups;
  for (const record::Correspondence& c : set.request.scan_to_frame) {
    const auto at = set.index.find(c.b);
    if (at == set.index.end()) continue;
    sources[set.frames[at->second].light].insert(set.frames[at->second].source);
    groups.insert(linked.Of(at->second));
  }
  for (int i = 0; i < static_cast<int>(set.frames.size()); ++i) {
    const UnifyFrame& f = set.frames[i];
    const auto beside = sources.find(f.light);
    if (beside == sources.end() || beside->second.contains(f.source) || groups.contains(linked.Of(i)))
      continue;
    const Vec3& cast = u.lights.at(f.light).cast_log10;
    const double strange = std::sqrt(cast[0] * cast[0] + cast[1] * cast[1] + cast[2] * cast[2]);
    OwnDoubt& doubt = u.doubt[f.photo->id];
    doubt.colour = std::max(doubt.colour, kBodiesApart * strange);
  }
}

Unification Collect(FrameSet& set) {
  Unification u;
  u.notes = set.notes;
  u.reference = set.reference;
  Groups linked = TiedFrames(set);
  u.loose = LooseFrames(set, linked);
  for (const UnifyFrame& f : set.frames) {
    record::Unify unify;
    unify.display_referred = f.display;
    unify.tone_in = f.tone_in;
    unify.tone_out = f.tone_out;
    Vec3 gain;
    for (int c = 0; c < 3; ++c) gain[c] = std::pow(10.0, f.gain_log10[c]);
    unify.matrix = Mul(Diagonal(gain), f.matrix);
    unify.exposure_log10 = f.exposure_log10;
    u.frames[f.photo->id] = std::move(unify);
    u.light_of[f.photo->id] = f.light;
    u.place[f.photo->id] = f.place;
    u.doubt[f.photo->id] = f.doubt;
  }
  TellLights(set, u);
  DoubtOtherBodies(set, linked, u);
  return u;
}

}  // namespace

Unification UnifyFrames(const Request& request) {
  FrameSet set(request);
  ChooseReference(set);
  OneWhitePerLight(set);
  GuessTones(set);
  const double exif_sigma = SolveExposures(set, {});
  RelateSources(set);
  SolveExposures(set, exif_sigma);
  EvenDisplayColour(set);
  DoubtUntiedFrames(set);
  return Collect(set);
}

}  // namespace samelight::solve
