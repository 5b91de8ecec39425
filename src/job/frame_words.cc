// Words about single frames, and the entries that say them.
#include "job/frame_words.h"

#include <algorithm>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "job/job.h"
#include "job/names.h"
#include "job/said.h"
#include "record/handle.h"
#include "session/session.h"

namespace samelight::job {
namespace {

using record::RegionKind;
using session::KeptState;

// A session that is written to, with what stands and the frames that are named.
struct Named {
  std::unique_ptr<session::Session> session;
  session::Standing standing;
  std::vector<PhotoId> frames;
};
Result<Named> OpenNamed(const fs::path& file, const std::vector<std::string>& names, session::Access access) {
  if (names.empty()) return Error{ErrorCode::kInvalidArgument, "no frame was named", "", "name one or more"};
  Result<std::unique_ptr<session::Session>> session = session::Session::Open(file, access);
  if (!session.ok()) return session.error();
  Result<std::vector<record::Photo>> photos = (*session)->Photos();
  if (!photos.ok()) return photos.error();
  Result<session::Standing> standing = StandingOf(**session);
  if (!standing.ok()) return standing.error();
  Named named{std::move(*session), std::move(*standing), {}};
  for (const std::string& name : names) {
    Result<PhotoId> frame = FindPhoto(*photos, record::Role::kFrame, name);
    if (!frame.ok()) return frame.error();
    named.frames.push_back(*frame);
  }
  return named;
}

std::string TellState(const KeptState& state) {
  std::string text = Told(state.touch) + fmt::format(", follow {:g} %", state.follow);
  const auto apart = [&](const char* region, double percent) {
    if (percent >= 0 && percent != state.follow) text += fmt::format(", {} {:g} %", region, percent);
  };
  apart("skin", state.follow_skin);
  apart("foliage", state.follow_foliage);
  apart("sky", state.follow_sky);
  return text;
}

}  // namespace

std::string Told(const record::Handles& touch) {
  std::string text;
  for (const record::HandleFacts& facts : record::AllHandles()) {
    const double value = record::ValueOf(touch, facts.handle);
    if (value == 0) continue;
    text += fmt::format("{}{} {:+.{}f}{}{}", text.empty() ? "" : ", ", facts.name, value, facts.digits,
                        *facts.unit == '\0' ? "" : " ", facts.unit);
  }
  return text.empty() ? "as solved" : text;
}

KeptState StateNow(const session::Standing& standing, PhotoId frame, const std::string& name) {
  const auto touch = standing.touch.find(frame);
  return {name,
          touch == standing.touch.end() ? record::Handles{} : touch->second,
          session::FollowOf(standing, frame),
          session::FollowSkinOf(standing, frame),
          session::FollowRegionOf(standing, frame, RegionKind::kFoliage),
          session::FollowRegionOf(standing, frame, RegionKind::kSky)};
}

std::vector<session::Word> TakeUp(PhotoId frame, const KeptState& state) {
  return {session::Touch{frame, state.touch}, session::Follow{{frame}, false, state.follow},
          session::Follow{{frame}, true, state.follow_skin},
          session::Follow{{frame}, false, state.follow_foliage, RegionKind::kFoliage},
          session::Follow{{frame}, false, state.follow_sky, RegionKind::kSky}};
}

std::vector<KeptState> StatesOf(const session::Standing& standing, PhotoId frame) {
  const auto it = standing.states.find(frame);
  return it == standing.states.end() ? std::vector<KeptState>() : it->second;
}

Result<SettleAnswer> Settle(const SettleRequest& request) {
  Result<Named> named = OpenNamed(request.session, request.frames, session::Access::kWrite);
  if (!named.ok()) return named.error();
  std::vector<session::Word> words;
  for (const PhotoId frame : named->frames) words.push_back(session::Settle{frame, request.settled});
  Status said = Say(
      *named->session, words,
      fmt::format("{} {}", fmt::join(request.frames, ", "), request.settled ? "settled" : "to be checked"));
  if (!said.ok()) return said.error();
  return SettleAnswer{static_cast<int>(words.size()), request.settled};
}

Result<StateAnswer> States(const StateRequest& request) {
  const int asked = !request.keep.empty() + !request.take_up.empty() + !request.drop.empty();
  if (asked > 1)
    return Error{ErrorCode::kInvalidArgument, "keeping, taking up and dropping are one at a time", "",
                 "call it once for each"};
  Result<Named> named = OpenNamed(request.session, {request.frame},
                                  asked == 0 ? session::Access::kRead : session::Access::kWrite);
  if (!named.ok()) return named.error();
  const PhotoId frame = named->frames.front();
  if (asked != 0) {
    const std::string& name = !request.keep.empty()      ? request.keep
                              : !request.take_up.empty() ? request.take_up
                                                         : request.drop;
    std::vector<session::Word> words;
    const char* what = "kept";
    if (!request.keep.empty()) {
      words = {session::KeepState{frame, StateNow(named->standing, frame, name), true}};
    } else {
      for (const KeptState& state : StatesOf(named->standing, frame))
        if (state.name == name)
          words = request.drop.empty() ? TakeUp(frame, state)
                                       : std::vector<session::Word>{session::KeepState{frame, state, false}};
      what = request.drop.empty() ? "taken up" : "dropped";
    }
    if (words.empty())
      return Error{ErrorCode::kNotFound, fmt::format("{} keeps no state called '{}'", request.frame, name),
                   "", "`samelight state SESSION FRAME` lists them"};
    Status said = Say(*named->session, words,
                      fmt::format("frame {}: state \u201c{}\u201d {}", request.frame, name, what));
    if (!said.ok()) return said.error();
    for (const session::Word& word : words) session::Add(named->standing, word);
  }
  StateAnswer answer;
  answer.now = TellState(StateNow(named->standing, frame, {}));
  for (const KeptState& state : StatesOf(named->standing, frame))
    answer.states.push_back({state.name, TellState(state)});
  return answer;
}

}  // namespace samelight::job
