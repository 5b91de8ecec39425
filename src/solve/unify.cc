#include "solve/unify.h"

#include <cmath>
#include <set>

#include "base/groups.h"
#include "solve/exposures.h"
#include "solve/light_state.h"
#include "solve/sources.h"

namespace samelight::solve {
namespace {

std::unordered_map<PhotoId, int> LooseFrames(const FrameSet& set) {
  Groups linked(static_cast<int>(set.frames.size()));
  for (const record::Correspondence& c : set.request.frame_to_frame) {
    const auto a = set.index.find(c.a), b = set.index.find(c.b);
    if (a == set.index.end() || b == set.index.end()) continue;
    if (set.frames[a->second].light == set.frames[b->second].light) linked.Join(b->second, a->second);
  }
  std::set<int> tied;
  for (int i = 0; i < static_cast<int>(set.frames.size()); ++i)
    if (!set.frames[i].display) tied.insert(linked.Of(i));
  std::unordered_map<PhotoId, int> loose;
  if (!tied.empty())  // else there is nothing to be tied to
    for (int i = 0; i < static_cast<int>(set.frames.size()); ++i)
      if (!tied.contains(linked.Of(i))) loose[set.frames[i].photo->id] = linked.Of(i);
  return loose;
}

Unification Collect(FrameSet& set) {
  Unification u;
  u.notes = set.notes;
  u.reference = set.reference;
  u.loose = LooseFrames(set);
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
