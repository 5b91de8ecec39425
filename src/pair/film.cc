#include "pair/film.h"

#include <algorithm>
#include <limits>
#include <map>

#include "base/task_pool.h"
#include "pair/align.h"
#include "pair/decide.h"
#include "pair/evidence.h"
#include "pair/odd_scans.h"
#include "pair/shortlist.h"

namespace samelight::pair {
namespace {

constexpr std::size_t kFurtherFrames = 4;  // matched to a scan besides its own
constexpr std::size_t kFurtherTried = 16;
constexpr double kDoubled = 0.9;  // confidence in leaving out what seems to be two exposures
constexpr double kCertain = 30;   // log ratio of a person's word

// A person's word about each scan.
struct Word {
  std::vector<int> joined;                 // frame, or -1
  std::vector<std::vector<bool>> refused;  // by place
};

Word WordOf(const Request& request, const Digital& digital) {
  std::map<PhotoId, int> frame_of, scan_of;
  for (std::size_t i = 0; i < request.frames.size(); ++i)
    frame_of[request.frames[i].photo->id] = static_cast<int>(i);
  for (std::size_t i = 0; i < request.scans.size(); ++i)
    scan_of[request.scans[i].photo->id] = static_cast<int>(i);
  Word out;
  out.joined.assign(request.scans.size(), -1);
  out.refused.assign(request.scans.size(), std::vector<bool>(request.frames.size(), false));
  for (const auto& [s, f] : request.word.joined)
    if (scan_of.count(s) && frame_of.count(f)) out.joined[scan_of[s]] = frame_of[f];
  for (const auto& [s, f] : request.word.refused)
    if (scan_of.count(s) && frame_of.count(f)) out.refused[scan_of[s]][digital.place[frame_of[f]]] = true;
  return out;
}

// What the pictures say of one scan, by place in the timeline.
ScanView Known(const View& scan, const std::vector<View>& frames, const std::vector<Shown>& tried,
               const Digital& digital) {
  ScanView out;
  const std::size_t n = frames.size();
  out.log_ratio.assign(n, kUnverifiedLogRatio);
  out.verified.assign(n, false);
  double clearest = kUnverifiedLogRatio;
  for (const Shown& t : tried) clearest = std::max(clearest, PlaceLogRatio(t.verified));
  for (const Shown& t : tried) {
    const int place = digital.place[t.frame];
    out.verified[place] = Verifies(t.verified);
    out.log_ratio[place] = MomentLogRatio(t.verified, clearest, t.behind);
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

// Scans of each roll in roll order.
std::vector<std::vector<int>> RollsOf(const std::vector<Item>& scans) {
  std::map<RollId, std::vector<int>> rolls;
  for (std::size_t i = 0; i < scans.size(); ++i) rolls[scans[i].photo->roll].push_back(static_cast<int>(i));
  std::vector<std::vector<int>> out;
  for (auto& [id, members] : rolls) {
    std::stable_sort(members.begin(), members.end(), [&](int a, int b) {
      return scans[a].photo->roll_position < scans[b].photo->roll_position;
    });
    out.push_back(std::move(members));
  }
  return out;
}

// Answers for one roll from what is known of its scans.
std::vector<Answer> Answers(std::vector<ScanView> roll, const Digital& digital) {
  LogRatios ratios;
  for (const ScanView& scan : roll) {
    std::vector<double> row = scan.log_ratio;
    for (std::size_t p = 0; p < row.size(); ++p)
      if (scan.refused[p]) row[p] = -kCertain;
    if (scan.joined >= 0) row[scan.joined] = kCertain;
    ratios.push_back(std::move(row));
  }
  Alignment alignment = AlignRoll(ratios);
  for (std::size_t k = 0; k < roll.size(); ++k) {
    roll[k].match = std::move(alignment.match[k]);
    roll[k].alone = std::move(alignment.alone[k]);
  }
  std::vector<double> time_s;
  for (int f : digital.timeline.order)
    time_s.push_back(digital.timeline.time_s[f].value_or(std::numeric_limits<double>::quiet_NaN()));
  std::vector<bool> elsewhere(digital.light.size(), false);
  for (const FrameLink& l : digital.links)
    if (digital.LightOf(l.a) != digital.LightOf(l.b))
      elsewhere[digital.place[l.a]] = elsewhere[digital.place[l.b]] = true;
  return Decide(roll, digital.light, time_s, elsewhere, {alignment.in_order, alignment.untouched});
}

}  // namespace

Result<Film> PairFilm(const Request& request, const std::vector<View>& scans, const std::vector<View>& frames,
                      const Digital& digital, Kept& kept, Progress& progress, const Cancel& cancel) {
  Film out;
  const Word word = WordOf(request, digital);
  std::vector<int> light_of_frame(frames.size());
  for (std::size_t f = 0; f < frames.size(); ++f) light_of_frame[f] = digital.LightOf(static_cast<int>(f));
  const std::vector<std::vector<double>> promise = CompareCheaply(scans, frames, kept, progress, cancel);
  if (cancel.requested()) return Stopped();

  std::vector<std::vector<int>> candidates(scans.size());
  for (std::size_t i = 0; i < scans.size(); ++i) {
    candidates[i] = Shortlist(promise[i], light_of_frame);
    if (word.joined[i] >= 0 &&
        std::find(candidates[i].begin(), candidates[i].end(), word.joined[i]) == candidates[i].end())
      candidates[i].push_back(word.joined[i]);
  }
  const std::vector<std::vector<Shown>> tried =
      LookClosely(request, scans, frames, candidates, kept, progress, cancel);
  if (cancel.requested()) return Stopped();
  for (std::size_t i = 0; i < scans.size(); ++i)
    out.doubled.push_back(word.joined[i] < 0 && IsDoubleExposure(scans[i], frames, tried[i]));

  out.pairs.resize(scans.size());
  out.frame.assign(scans.size(), -1);
  out.doubtful.assign(scans.size(), false);
  out.by_order.assign(scans.size(), false);
  out.rolls = RollsOf(request.scans);
  const auto id_at = [&](int place) { return request.frames[digital.timeline.order[place]].photo->id; };
  for (const std::vector<int>& roll : out.rolls) {
    std::vector<ScanView> known;
    for (int i : roll) {
      known.push_back(Known(scans[i], frames, tried[i], digital));
      known.back().refused = word.refused[i];
      if (word.joined[i] >= 0) known.back().joined = digital.place[word.joined[i]];
    }
    const std::vector<Answer> answers = Answers(std::move(known), digital);
    for (std::size_t k = 0; k < roll.size(); ++k) {
      const auto& [choice, by_person, by_order, doubtful, others] = answers[k];
      record::Pair& pair = out.pairs[roll[k]];
      pair = {request.scans[roll[k]].photo->id, {}, choice.kind, choice.confidence, by_person, {}};
      for (const Choice& c : others) pair.alternatives.push_back({id_at(c.frame), c.kind, c.confidence});
      out.doubtful[roll[k]] = doubtful && !out.doubled[roll[k]];
      out.by_order[roll[k]] = by_order && !out.doubled[roll[k]];
      if (choice.frame < 0) continue;
      if (out.doubled[roll[k]]) {  // its colours are those of two pictures
        pair.alternatives.insert(pair.alternatives.begin(),
                                 {id_at(choice.frame), choice.kind, choice.confidence});
        if (pair.alternatives.size() > 3) pair.alternatives.resize(3);
        pair.kind = record::PairKind::kNone;
        pair.confidence = kDoubled;
        continue;
      }
      pair.frame = id_at(choice.frame);
      out.frame[roll[k]] = digital.timeline.order[choice.frame];
    }
    if (cancel.requested()) return Stopped();
  }

  out.shown.resize(scans.size());
  progress.Begin("finding more frames of each moment", static_cast<long>(scans.size()));
  ParallelFor(scans.size(), cancel, [&](std::size_t i) {
    if (const int own = out.frame[i]; own >= 0) {
      std::map<int, const Verified*> known;
      for (const Shown& t : tried[i]) known[t.frame] = &t.verified;
      std::vector<Shown>& shown = out.shown[i];
      for (int f : FurtherCandidates(promise[i], light_of_frame, own)) {
        if (word.refused[i][digital.place[f]]) continue;
        const auto it = known.find(f);
        Verified v = it != known.end() ? *it->second : VerifyOrRecall(scans[i], frames[f], kept);
        if (GoodForCells(v)) shown.push_back({f, std::move(v)});
      }
      std::stable_sort(shown.begin(), shown.end(), [&](const Shown& x, const Shown& y) {
        if ((x.frame == own) != (y.frame == own)) return x.frame == own;
        return Shared(x.verified) > Shared(y.verified);
      });
      if (shown.size() > kFurtherFrames + 1) shown.resize(kFurtherFrames + 1);
    }
    progress.Advance(1);
  });
  progress.End();
  if (cancel.requested()) return Stopped();
  return out;
}

}  // namespace samelight::pair
