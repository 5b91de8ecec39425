// The solve, with how far a person wants to follow the film.
#include <algorithm>

#include "exchange/look_file.h"
#include "job/digest.h"
#include "job/looks.h"
#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"
#include "session/pack.h"
#include "solve/reasons.h"
#include "solve/solve.h"

namespace samelight::job {
namespace {

using session::Stage;

// Raised when the solve would answer differently for the same input.
constexpr int kSolveVersion = 15;

MatchAnswer Count(const session::MatchResult& result) {
  MatchAnswer answer;
  answer.frames = static_cast<int>(result.frames.size());
  for (const record::FrameSolution& frame : result.frames)
    ++(frame.flags.empty() ? answer.settled : answer.to_check);
  answer.notes = result.notes;
  return answer;
}

// What the fit depends on, and what is only put on top of it frame by frame.
std::string FitDigest(const std::string& pairs, const solve::Request& request,
                      const session::Standing& standing) {
  Digest digest;
  digest.Add(kSolveVersion).Add(pairs).Add(request.follow_scan ? 1 : 0);
  digest.Add(request.skin_weight).Add(request.tolerance);
  if (request.earlier) digest.Add(exchange::LookText(*request.earlier));
  for (const PhotoId scan : request.barred) digest.Add("bar").Add(scan.value);
  for (const PhotoId scan : standing.let_in) digest.Add("let in").Add(scan.value);
  for (const record::Roll& roll : request.rolls)
    digest.Add(roll.id.value)
        .Add(roll.stock)
        .Add(roll.lab)
        .Add(roll.black_and_white ? 1 : 0)
        .Add(roll.expired ? 1 : 0)
        .Add(roll.push_ev);
  return digest.Hex();
}

std::string MannerDigest(const solve::Request& request, const session::Standing& standing) {
  Digest digest;
  digest.Add(request.follow_all).Add(request.follow_skin);
  // In the order of photos, since maps have none of their own.
  for (const record::Photo& photo : request.photos) {
    if (const auto it = request.follow.find(photo.id); it != request.follow.end())
      digest.Add("follow").Add(photo.id.value).Add(it->second);
    if (const auto it = standing.follow_skin.find(photo.id); it != standing.follow_skin.end())
      digest.Add("skin").Add(photo.id.value).Add(it->second);
    for (const record::RegionKind region : {record::RegionKind::kFoliage, record::RegionKind::kSky})
      if (const double percent = session::FollowRegionOf(standing, photo.id, region); percent >= 0)
        digest.Add(record::Name(region)).Add(photo.id.value).Add(percent);
    if (const auto it = request.touch.find(photo.id); it != request.touch.end()) {
      const session::Bytes bytes = session::Pack(session::Word(session::Touch{photo.id, it->second}));
      digest.Add(std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()));
    }
  }
  return digest.Hex();
}

// The manner of `standing` put on a fit that stands; left-overs and reasons of what changed are judged again.
void PutManner(const solve::Request& request, const session::Standing& standing,
               session::MatchResult& result) {
  std::unordered_map<PhotoId, const record::Photo*> photos;
  for (const record::Photo& photo : request.photos) photos[photo.id] = &photo;
  bool changed = false;
  for (record::FrameSolution& solution : result.frames) {
    record::Correction wished = solution.correction;
    session::PutFollow(standing, solution.frame, wished);
    const auto touch = standing.touch.find(solution.frame);
    wished.touch = touch == standing.touch.end() ? record::Handles{} : touch->second;
    const auto photo = photos.find(solution.frame);
    const auto measured = request.measured.find(solution.frame);
    if (wished == solution.correction || photo == photos.end() || measured == request.measured.end())
      continue;
    solution.correction = std::move(wished);
    const record::Correspondence* matched = nullptr;
    for (const record::Correspondence& c : request.scan_to_frame)
      if (c.a == solution.scan && c.b == solution.frame) matched = &c;
    solve::Rejudge({photo->second, &measured->second, matched, request.tolerance}, solution);
    changed = true;
  }
  if (changed) solve::FlagOutliers(request.measured, result.frames);
}

Status KeepMatch(session::Session& session, const session::MatchResult& result, const std::string& digest) {
  Result<session::Change> change = session.Begin();
  if (!change.ok()) return change.error();
  Status put = change->ReplaceMatch(result);
  if (put.ok()) put = change->SetMadeFrom(Stage::kMatch, digest);
  return put.ok() ? change->Commit() : put;
}

}  // namespace

Result<solve::Request> RequestOfSession(const session::Session& session, const session::Standing& standing) {
  Result<std::vector<record::Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<std::unordered_map<PhotoId, session::MeasuredEntry>> measured = session.Measured();
  if (!measured.ok()) return measured.error();
  Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!rolls.ok()) return rolls.error();
  solve::Request request;
  for (record::Photo& photo : *photos) {
    const auto it = measured->find(photo.id);
    if (it == measured->end() || it->second.hash != photo.hash) continue;
    request.measured[photo.id] = std::move(it->second.measured);
    request.photos.push_back(std::move(photo));
  }
  request.rolls = StandingRolls(std::move(rolls).value(), standing, request.measured, request.photos);
  request.barred.assign(standing.barred.begin(), standing.barred.end());
  for (const auto& [frame, percent] : standing.follow) request.follow[frame] = percent / 100;
  request.touch = standing.touch;
  request.follow_all = session::SettingOf(standing, "follow") / 100;
  request.follow_skin = standing.follow_skin_all / 100;
  request.follow_scan = session::SettingOf(standing, "follow-scan") != 0;
  request.skin_weight = session::SettingOf(standing, "skin-weight");
  request.tolerance = session::SettingOf(standing, "tolerance");
  Result<std::optional<record::LearnedLook>> earlier = EarlierLook(standing);
  if (!earlier.ok()) return earlier.error();
  request.earlier = std::move(earlier).value();
  return request;
}

Status AddPairs(const session::Session& session, const session::Standing& standing, solve::Request& request) {
  Result<session::PairResult> pairs = session.Pairs();
  if (!pairs.ok()) return pairs.error();
  request.lights = std::move(pairs->lights);
  const std::set<PhotoId> own_light = UnderColouredLamps(standing, request.lights);
  request.own_light_only.assign(own_light.begin(), own_light.end());
  request.pairs = std::move(pairs->pairs);
  request.scan_to_frame = std::move(pairs->scan_to_frame);
  request.frame_to_frame = std::move(pairs->frame_to_frame);
  return {};
}

Result<bool> UpToDate(const session::Session& session, const session::Standing& standing) {
  Result<solve::Request> request = RequestOfSession(session, standing);
  if (!request.ok()) return request.error();
  Result<std::string> pairs_from = session.MadeFrom(Stage::kPair);
  if (!pairs_from.ok()) return pairs_from.error();
  Result<std::string> made_from = session.MadeFrom(Stage::kMatch);
  if (!made_from.ok()) return made_from.error();
  return *pairs_from == PairDigest(request->photos, request->rolls, standing) &&
         made_from->starts_with(FitDigest(*pairs_from, *request, standing) + "/");
}

Result<MatchAnswer> MatchAll(session::Session& session, bool again, const Work& work) {
  Result<session::Standing> said = StandingOf(session);
  if (!said.ok()) return said.error();
  Result<std::string> pairs_from = session.MadeFrom(Stage::kPair);
  if (!pairs_from.ok()) return pairs_from.error();
  Result<std::string> made_from = session.MadeFrom(Stage::kMatch);
  if (!made_from.ok()) return made_from.error();
  const session::Standing& standing = *said;
  Result<solve::Request> gathered = RequestOfSession(session, standing);
  if (!gathered.ok()) return gathered.error();
  solve::Request& request = *gathered;

  const std::string fit = FitDigest(*pairs_from, request, standing) + "/",
                    digest = fit + MannerDigest(request, standing);
  const bool fitted = !again && made_from->starts_with(fit);
  Result<session::MatchResult> kept = fitted ? session.Match() : session::MatchResult{};
  if (!kept.ok()) return kept.error();
  if (fitted && *made_from == digest) return Count(*kept);
  Status paired = AddPairs(session, standing, request);
  if (!paired.ok()) return paired.error();
  if (fitted) {  // only touches or follow are new: nothing has to be fitted again
    PutManner(request, standing, *kept);
    Status put = KeepMatch(session, *kept, digest);
    if (!put.ok()) return put.error();
    MatchAnswer answer = Count(*kept);
    answer.computed = true;
    return answer;
  }
  Result<solve::Solution> solution = solve::SolveSession(request, work.progress, work.cancel);
  if (!solution.ok()) return solution.error();

  session::MatchResult result;
  result.frames = std::move(solution->frames);
  PutManner(request, standing, result);  // what the fit does not know: shares of regions and single frames
  for (const solve::Solution::ScanNudge& nudge : solution->nudges)
    result.nudges.push_back({nudge.scan, nudge.de, nudge.influence});
  for (const solve::Solution::OfRoll& roll : solution->rolls)
    result.rolls.push_back({roll.roll, roll.scans, roll.de});
  result.notes = std::move(solution->notes);
  Status put = KeepMatch(session, result, digest);
  if (!put.ok()) return put.error();
  MatchAnswer answer = Count(result);
  answer.computed = true;
  return answer;
}

}  // namespace samelight::job
