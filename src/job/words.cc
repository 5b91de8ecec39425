#include "job/words.h"

#include <algorithm>
#include <charconv>
#include <set>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/setting.h"
#include "job/looks.h"
#include "job/names.h"
#include "job/roll_words.h"
#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"
#include "session/words.h"

namespace samelight::job {
namespace {

using record::Role;
using session::Word;

Error WrongUse(const std::string& what, const std::string& todo) {
  return {ErrorCode::kInvalidArgument, what, "", todo};
}

// "key=value" in two.
Result<std::pair<std::string, std::string>> Split(const std::string& text) {
  const std::size_t at = text.find('=');
  if (at == std::string::npos || at == 0)
    return WrongUse(fmt::format("'{}' is not of the form key=value", text),
                    "write, for instance, name=ceremony");
  return std::pair(text.substr(0, at), text.substr(at + 1));
}

Result<double> Number(const std::string& text, const std::string& of) {
  double value = 0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (code != std::errc() || end != text.data() + text.size())
    return WrongUse(fmt::format("'{}' is not a number for {}", text, of), "write, for instance, 1 or -0.5");
  return value;
}

// Collects words and their telling.
struct Saying {
  std::vector<Word> words;
  std::vector<std::string> told;
  void Add(Word word, std::string text) {
    words.push_back(std::move(word));
    told.push_back(std::move(text));
  }
  Status Commit(session::Session& session) const {
    return words.empty() ? Status() : Say(session, words, fmt::format("{}", fmt::join(told, "; ")));
  }
};

// "split=SCAN": another roll begins there; "join=ROLL": both are parts of one.
Status SayRollParts(const std::vector<record::Roll>& rolls, const std::vector<record::Photo>& photos,
                    const record::Roll& roll, const std::string& key, const std::string& value,
                    Saying& saying) {
  if (key == "split") {
    Result<PhotoId> scan = FindPhoto(photos, Role::kScan, value);
    if (!scan.ok()) return scan.error();
    const auto at = std::find(roll.scans.begin(), roll.scans.end(), *scan);
    if (at == roll.scans.end())
      return WrongUse(fmt::format("'{}' is not in roll '{}'", value, roll.name), "");
    if (at == roll.scans.begin())
      return WrongUse(fmt::format("'{}' is the first of its roll already", value), "");
    saying.Add(SplitAt(roll.id, *scan), fmt::format("roll {}: another roll begins at {}", roll.name, value));
    return {};
  }
  Result<RollId> other = FindRoll(rolls, value);
  if (!other.ok()) return other.error();
  if (*other == roll.id) return WrongUse("a roll cannot be joined to itself", "name another one");
  saying.Add(JoinTo(roll.id, *other), fmt::format("rolls {} and {} are one", roll.name, value));
  return {};
}

Status SayRoll(const std::vector<record::Roll>& rolls, const std::vector<record::Photo>& photos,
               const std::string& name, const std::string& fact, Saying& saying) {
  Result<RollId> roll = FindRoll(rolls, name);
  if (!roll.ok()) return roll.error();
  Result<std::pair<std::string, std::string>> pair = Split(fact);
  if (!pair.ok()) return pair.error();
  const auto& [key, value] = *pair;
  if (key == "split" || key == "join") {
    const auto at =
        std::find_if(rolls.begin(), rolls.end(), [&](const record::Roll& r) { return r.id == *roll; });
    return SayRollParts(rolls, photos, *at, key, value, saying);
  }
  Status fits = CheckRollFact(key, value);
  if (!fits.ok()) return fits;
  saying.Add(session::RollFact{*roll, key, value}, fmt::format("roll {}: {} is {}", name, key, value));
  return {};
}

Status SayLight(const std::vector<record::Light>& lights, const std::vector<record::Photo>& photos,
                const std::string& name, const std::string& fact, Saying& saying) {
  Result<std::size_t> light = FindLight(lights, name);
  if (!light.ok()) return light.error();
  Result<std::pair<std::string, std::string>> pair = Split(fact);
  if (!pair.ok()) return pair.error();
  const auto& [key, value] = *pair;
  const std::vector<PhotoId>& frames = lights[*light].frames;
  if (frames.empty()) return WrongUse(fmt::format("light '{}' has no frame", name), "");
  if (key == "name") {
    if (value.empty()) return WrongUse("the name of a light cannot be empty", "");
    saying.Add(session::LightName{frames.front(), value}, fmt::format("light {} is called {}", name, value));
  } else if (key == "join") {
    Result<std::size_t> other = FindLight(lights, value);
    if (!other.ok()) return other.error();
    if (*other == *light) return WrongUse("a light cannot be joined to itself", "name another one");
    std::vector<PhotoId> together = lights[std::min(*light, *other)].frames;
    const std::vector<PhotoId>& later = lights[std::max(*light, *other)].frames;
    together.insert(together.end(), later.begin(), later.end());
    saying.Add(session::LightTogether{std::move(together)},
               fmt::format("lights {} and {} are one", name, value));
  } else if (key == "split") {
    Result<PhotoId> frame = FindPhoto(photos, Role::kFrame, value);
    if (!frame.ok()) return frame.error();
    const auto at = std::find(frames.begin(), frames.end(), *frame);
    if (at == frames.end()) return WrongUse(fmt::format("'{}' is not in light '{}'", value, name), "");
    if (at == frames.begin())
      return WrongUse(fmt::format("'{}' is the first of its light already", value), "");
    saying.Add(session::LightStart{*frame}, fmt::format("a light begins at {}", value));
  } else {
    return WrongUse(fmt::format("a light has no '{}'", key), "say name, join or split");
  }
  return {};
}

}  // namespace

Status CheckRollFact(const std::string& key, const std::string& value) {
  const auto range = [&, k = key, v = value](double least, double most, const char* unit) -> Status {
    Result<double> number = Number(v, k);
    if (!number.ok()) return number.error();
    if (!(*number >= least && *number <= most))
      return WrongUse(fmt::format("{} is {:g} {}, but goes from {:g} to {:g}", k, *number, unit, least, most),
                      "");
    return {};
  };
  if (key == "push") return range(-3, 3, "EV");
  if (key == "rating") return range(1, 12800, "ISO");
  if (key == "scan-day" && !IsDay(value))
    return WrongUse(fmt::format("scan-day is '{}', but is a date", value), "write, for instance, 2026-05-30");
  const bool yes_or_no = key == "black-and-white" || key == "expired";
  if (yes_or_no && value != "yes" && value != "no")
    return WrongUse(fmt::format("{} is '{}', but is yes or no", key, value), "");
  const bool text = key == "name" || key == "stock" || key == "lab" || key == "format";
  if (text && value.empty()) return WrongUse(fmt::format("the {} of a roll cannot be empty", key), "");
  if (!text && key != "scan-day" && !yes_or_no)
    return WrongUse(
        fmt::format("a roll has no '{}'", key),
        "say name, stock, lab, format, rating, push, scan-day, black-and-white, expired, split or join");
  return {};
}

Status SayPairWords(session::Session& session, const PairRequest& request) {
  Result<std::vector<record::Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Saying saying;
  for (const bool join : {true, false})
    for (const auto& [scan_name, frame_name] : join ? request.join : request.refuse) {
      Result<PhotoId> scan = FindPhoto(*photos, Role::kScan, scan_name);
      if (!scan.ok()) return scan.error();
      Result<PhotoId> frame = FindPhoto(*photos, Role::kFrame, frame_name);
      if (!frame.ok()) return frame.error();
      if (join)
        saying.Add(session::Join{*scan, *frame}, fmt::format("{} goes with {}", scan_name, frame_name));
      else
        saying.Add(session::Refuse{*scan, *frame},
                   fmt::format("{} does not go with {}", scan_name, frame_name));
    }
  for (const bool bar : {true, false})
    for (const std::string& name : bar ? request.bar : request.unbar) {
      Result<PhotoId> scan = FindPhoto(*photos, Role::kScan, name);
      if (!scan.ok()) return scan.error();
      saying.Add(session::Bar{*scan, bar}, bar ? fmt::format("{} is kept out of the look", name)
                                               : fmt::format("{} is let into the look", name));
    }
  if (!request.roll.empty()) {
    Result<std::vector<record::Roll>> rolls = session.Rolls();
    if (!rolls.ok()) return rolls.error();
    Result<session::Standing> before = StandingOf(session);
    if (!before.ok()) return before.error();
    Result<std::unordered_map<PhotoId, session::MeasuredEntry>> measured = session.Measured();
    if (!measured.ok()) return measured.error();
    std::unordered_map<PhotoId, record::Measured> known;
    for (auto& [id, entry] : *measured) known[id] = std::move(entry.measured);
    const std::vector<record::Roll> standing =
        StandingRolls(std::move(rolls).value(), *before, known, *photos);
    for (const auto& [name, facts] : request.roll)
      for (const std::string& fact : facts) {
        Status said = SayRoll(standing, *photos, name, fact, saying);
        if (!said.ok()) return said;
      }
  }
  if (!request.light.empty()) {
    Result<session::PairResult> pairs = session.PairsWithoutMatches();
    if (!pairs.ok()) return pairs.error();
    Result<session::Standing> before = StandingOf(session);
    if (!before.ok()) return before.error();
    NameLights(*before, pairs->lights);
    for (const auto& [name, facts] : request.light)
      for (const std::string& fact : facts) {
        Status said = SayLight(pairs->lights, *photos, name, fact, saying);
        if (!said.ok()) return said;
      }
  }
  for (const auto& [body, seconds] : request.clock) {
    Result<double> offset_s = Number(seconds, "a clock's offset in seconds");
    if (!offset_s.ok()) return offset_s.error();
    std::set<std::string> bodies;
    for (const record::Photo& photo : *photos)
      if (photo.role == Role::kFrame) bodies.insert(record::BodyName(photo));
    if (!bodies.contains(body))
      return Error{ErrorCode::kNotFound, fmt::format("no frame was taken with a body called '{}'", body), "",
                   fmt::format("say one of '{}'", fmt::join(bodies, "', '"))};
    saying.Add(session::ClockOffset{body, *offset_s},
               fmt::format("clock of {} moved by {:g} s", body, *offset_s));
  }
  return saying.Commit(session);
}

Status SayMatchWords(session::Session& session, const MatchRequest& request) {
  const Result<session::Standing> folded = StandingOf(session);
  if (!folded.ok()) return folded.error();
  const session::Standing& standing = *folded;
  Saying saying;
  std::vector<PhotoId> frames;
  if (!request.of_frames.empty()) {
    Result<std::vector<record::Photo>> photos = session.Photos();
    if (!photos.ok()) return photos.error();
    for (const std::string& name : request.of_frames) {
      Result<PhotoId> frame = FindPhoto(*photos, Role::kFrame, name);
      if (!frame.ok()) return frame.error();
      frames.push_back(*frame);
    }
  }
  for (const bool skin : {false, true}) {
    const std::optional<double>& percent = skin ? request.follow_skin_percent : request.follow_percent;
    if (!percent) continue;
    Status fits = CheckSetting("follow", *percent);
    if (!fits.ok()) return fits;
    const double now = skin ? standing.follow_skin_all : session::SettingOf(standing, "follow");
    if (frames.empty() && now == *percent) continue;
    saying.Add(session::Follow{frames, skin, *percent},
               fmt::format("{}follow the film to {:g} %{}", skin ? "skin: " : "", *percent,
                           frames.empty() ? "" : fmt::format(" for {}", fmt::join(request.of_frames, ", "))));
  }
  for (const auto& [region, percent] :
       {std::pair(record::RegionKind::kFoliage, request.follow_foliage_percent),
        std::pair(record::RegionKind::kSky, request.follow_sky_percent)}) {
    if (!percent) continue;
    const bool apart = *percent >= 0;
    if (Status fits = CheckSetting("follow", std::max(0.0, *percent)); !fits.ok()) return fits;
    const auto now = standing.follow_region.find(region);
    if (frames.empty() && (now == standing.follow_region.end() ? -1 : now->second.all) == *percent) continue;
    saying.Add(
        session::Follow{frames, false, apart ? *percent : -1, region},
        fmt::format("{}: {}{}", record::Name(region),
                    apart ? fmt::format("follow the film to {:g} %", *percent) : "with the whole again",
                    frames.empty() ? "" : fmt::format(" for {}", fmt::join(request.of_frames, ", "))));
  }
  for (const auto& [name, value] : request.settings) {
    Status fits = CheckSetting(name, value);
    if (!fits.ok()) return fits;
    if (session::SettingOf(standing, name) == value) continue;
    saying.Add(session::Set{name, value}, fmt::format("{} is {:g} {}", name, value, FindSetting(name)->unit));
  }
  if (request.look) {
    Result<session::TakeLook> look = LookWord(*request.look);
    if (!look.ok()) return look.error();
    if (look->text != standing.look.text)
      saying.Add(*look, look->text.empty() ? "begin from the built-in look"
                                           : fmt::format("begin from the look '{}'", look->name));
  }
  return saying.Commit(session);
}

}  // namespace samelight::job
