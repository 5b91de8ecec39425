// Pairs and lights, with what a person said about them.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "job/digest.h"
#include "job/names.h"
#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"
#include "pair/pairing.h"

namespace samelight::job {
namespace {

using record::Photo;
using record::Role;
using session::Stage;

// Raised when pairing would answer differently for the same input.
constexpr int kPairingVersion = 10;

pair::PersonsWord WordOf(const session::Standing& standing) {
  pair::PersonsWord word;
  word.joined.assign(standing.joined.begin(), standing.joined.end());
  word.refused.assign(standing.refused.begin(), standing.refused.end());
  word.lights = standing.together;
  word.light_starts.assign(standing.light_starts.begin(), standing.light_starts.end());
  word.body_offset_s.insert(standing.clock_offset_s.begin(), standing.clock_offset_s.end());
  return word;
}

// Where the grain of a roll changes for good, another film may begin.
void NoteFilmChanges(const pair::Request& request, std::vector<record::Note>& notes) {
  for (const record::Roll& roll : request.rolls) {
    std::vector<const Photo*> scans;
    std::vector<const record::Measured*> measured;
    for (const pair::Item& item : request.scans)
      if (item.photo->roll == roll.id) {
        scans.push_back(item.photo);
        measured.push_back(&item.facts->measured);
      }
    for (const FilmChange& change : FilmChanges(scans, measured)) {
      const std::string name = fs::path(scans[change.at]->path).filename().string();
      notes.push_back(
          {scans[change.at]->id,
           fmt::format("the grain changes here: perhaps another film; then say --roll '{}' split={}",
                       roll.name, name)});
    }
  }
}

std::string Named(const Photo& photo) { return fs::path(photo.path).filename().string(); }

// How the clocks were taken, which is a guess where a person has not said it.
void TellClocks(const session::Standing& standing, const session::PairResult& result,
                std::vector<std::string>& notes) {
  for (std::size_t b = 1; b < result.clocks.size(); ++b) {
    const session::Clock& clock = result.clocks[b];
    const std::string& first = result.clocks[0].body;
    if (standing.clock_offset_s.contains(clock.body)) continue;
    if (clock.confidence <= 0)
      notes.push_back(
          fmt::format("nothing ties the clock of {0} to that of {1}: it is taken as it is; --clock '{0}' "
                      "SECONDS moves it",
                      clock.body, first));
    else if (std::abs(clock.offset_s) >= 0.5)
      notes.push_back(
          fmt::format("the clock of {0} is taken as {1:.0f} s {2} that of {3} (confidence {4:.2f}); --clock "
                      "'{0}' {5:.0f} "
                      "says the same, another number corrects it",
                      clock.body, std::abs(clock.offset_s), clock.offset_s > 0 ? "behind" : "ahead of", first,
                      clock.confidence, clock.offset_s));
  }
}

PairAnswer Count(const session::PairResult& result, const std::vector<Photo>& photos,
                 const session::Standing& standing) {
  PairAnswer answer;
  TellClocks(standing, result, answer.notes);
  std::vector<record::Light> lights = result.lights;
  NameLights(standing, lights);
  for (const record::Light& light : lights)
    if (light.narrow_band)
      answer.notes.push_back(fmt::format(
          "{} ({} frames, {} scans): coloured lamps of few wavelengths; its scans tell this light only and are "
          "kept out of the look, --unbar SCAN lets one in",
          light.name, light.frames.size(), light.scans.size()));
  std::unordered_map<PhotoId, const Photo*> scans;
  for (const Photo& photo : photos)
    if (photo.role == Role::kScan) scans[photo.id] = &photo;
  for (const record::Note& note : result.notes)
    if (const auto it = scans.find(note.photo); it != scans.end())
      answer.notes.push_back(fmt::format("{}: {}", Named(*it->second), note.text));
  answer.scans = static_cast<int>(result.pairs.size());
  answer.lights = static_cast<int>(result.lights.size());
  for (const record::Pair& pair : result.pairs) {
    answer.moment += pair.kind == record::PairKind::kMoment;
    answer.light += pair.kind == record::PairKind::kLight;
    answer.none += pair.kind == record::PairKind::kNone;
    answer.undecided += record::IsUndecided(pair);
  }
  return answer;
}

}  // namespace

std::string PairDigest(const std::vector<Photo>& photos, const std::vector<record::Roll>& rolls,
                       const session::Standing& standing) {
  Digest digest;
  digest.Add(kPairingVersion);
  for (const Photo& photo : photos)
    digest.Add(photo.id.value).Add(photo.hash).Add(photo.roll.value).Add(photo.roll_position);
  for (const record::Roll& roll : rolls) digest.Add(roll.id.value).Add(roll.black_and_white ? 1 : 0);
  const pair::PersonsWord word = WordOf(standing);
  for (const auto& [scan, frame] : word.joined) digest.Add("join").Add(scan.value).Add(frame.value);
  for (const auto& [scan, frame] : word.refused) digest.Add("refuse").Add(scan.value).Add(frame.value);
  for (const std::vector<PhotoId>& group : word.lights) {
    digest.Add("together");
    for (const PhotoId frame : group) digest.Add(frame.value);
  }
  for (const PhotoId frame : word.light_starts) digest.Add("start").Add(frame.value);
  for (const auto& [body, offset_s] : standing.clock_offset_s) digest.Add(body).Add(offset_s);
  return digest.Hex();
}

void NameLights(const session::Standing& standing, std::vector<record::Light>& lights) {
  for (const auto& [frame, name] : standing.light_names)
    for (record::Light& light : lights)
      if (std::find(light.frames.begin(), light.frames.end(), frame) != light.frames.end()) light.name = name;
}

Result<PairAnswer> PairAll(session::Session& session, const MeasureAnswer& measured, bool again,
                           const Work& work) {
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<session::Standing> said = StandingOf(session);
  if (!said.ok()) return said.error();
  Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!rolls.ok()) return rolls.error();
  const session::Standing& standing = *said;
  std::unordered_map<PhotoId, record::Measured> facts;
  for (const auto& [id, cached] : measured.facts) facts[id] = cached.measured;

  pair::Request request;
  request.rolls = StandingRolls(std::move(rolls).value(), standing, facts, *photos);
  request.word = WordOf(standing);
  std::vector<Photo> used;
  std::unordered_map<PhotoId, fs::path> files;
  for (const Photo& photo : *photos) {
    const auto it = measured.facts.find(photo.id);
    if (it == measured.facts.end()) continue;
    used.push_back(photo);
    files[photo.id] = AnalysisFile(session, photo);
    (photo.role == Role::kScan ? request.scans : request.frames).push_back({&photo, &it->second});
  }
  // Scans come roll by roll, in the order of the roll.
  std::stable_sort(request.scans.begin(), request.scans.end(), [](const pair::Item& a, const pair::Item& b) {
    return std::pair(a.photo->roll, a.photo->roll_position) <
           std::pair(b.photo->roll, b.photo->roll_position);
  });
  const std::string digest = PairDigest(used, request.rolls, standing);
  Result<std::string> made_from = session.MadeFrom(Stage::kPair);
  if (!made_from.ok()) return made_from.error();
  if (!again && *made_from == digest) {
    Result<session::PairResult> kept = session.PairsWithoutMatches();
    if (!kept.ok()) return kept.error();
    return Count(*kept, *photos, standing);
  }
  request.load = [&files](PhotoId id) -> Result<measure::Cached> {
    const auto it = files.find(id);
    if (it == files.end())
      return Error{ErrorCode::kInternal, "a picture that was not measured was asked for", "", ""};
    return measure::ReadCached(it->second);
  };
  pair::Kept kept;
  const fs::path kept_file = session.cache_folder() / "pairs.kept";
  // Without it all is compared again, which costs time only; so neither failing is worth a word.
  if (!again) static_cast<void>(kept.Read(kept_file));
  request.kept = &kept;
  Result<pair::Pairing> pairing = pair::PairSession(request, work.progress, work.cancel);
  if (!pairing.ok()) return pairing.error();

  static_cast<void>(kept.Write(kept_file));

  session::PairResult result;
  result.lights = std::move(pairing->lights);
  result.pairs = std::move(pairing->pairs);
  for (pair::BodyClock& clock : pairing->clocks)
    result.clocks.push_back({std::move(clock.body), clock.offset_s, clock.confidence});
  result.scan_to_frame = std::move(pairing->scan_to_frame);
  result.frame_to_frame = std::move(pairing->frame_to_frame);
  result.notes = std::move(pairing->notes);
  NoteFilmChanges(request, result.notes);
  Result<session::Change> change = session.Begin();
  if (!change.ok()) return change.error();
  Status put = change->ReplacePairs(result);
  if (put.ok()) put = change->SetMadeFrom(Stage::kPair, digest);
  if (put.ok()) put = change->Commit();
  if (!put.ok()) return put.error();
  PairAnswer answer = Count(result, *photos, standing);
  answer.computed = true;
  return answer;
}

}  // namespace samelight::job
