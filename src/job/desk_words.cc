// What a person says at the desk, turned into words of the history.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/setting.h"
#include "job/desk_impl.h"
#include "job/frame_words.h"
#include "job/looks.h"
#include "job/order_fields.h"
#include "job/parcels.h"
#include "job/roll_words.h"
#include "job/rolls.h"
#include "job/stages.h"
#include "report/words.h"

namespace samelight::job {
namespace {

using record::Handle;

// "0417", "3 frames".
std::string Who(const Desk::Impl& impl, const std::vector<PhotoId>& frames) {
  return frames.size() == 1 ? "frame " + impl.NameOf(frames.front())
                            : report::Count(static_cast<int>(frames.size()), "frame");
}

std::vector<PhotoId> Known(const Book& book, const std::vector<PhotoId>& frames) {
  std::vector<PhotoId> known;
  for (const PhotoId id : frames)
    if (book.Frame(id) != nullptr) known.push_back(id);
  return known;
}

}  // namespace

const std::vector<record::RegionKind>& FollowRegions() {
  static const std::vector<record::RegionKind> regions = {
      record::RegionKind::kSkin, record::RegionKind::kFoliage, record::RegionKind::kSky};
  return regions;
}

void Desk::Touch(PhotoId frame, const record::Handles& handles) {
  if (impl_->book->Frame(frame) == nullptr || TouchOf(frame) == handles) return;
  impl_->Say({session::Touch{frame, handles}},
             fmt::format("frame {}: {}", impl_->NameOf(frame), job::Told(handles)), {frame}, false, false);
}

void Desk::DoCarry(const Carry& carry) {
  const std::vector<PhotoId> reach = Reach(carry);
  const record::Handles from = TouchOf(carry.from);
  std::vector<session::Word> words;
  for (const PhotoId id : reach) {
    record::Handles touch = carry.handles.empty() ? from : TouchOf(id);
    for (const Handle handle : carry.handles) record::SetValue(touch, handle, record::ValueOf(from, handle));
    if (touch != TouchOf(id)) words.push_back(session::Touch{id, touch});
  }
  impl_->Say(
      std::move(words),
      fmt::format("the touch of frame {} carried to {}", impl_->NameOf(carry.from), Who(*impl_, reach)),
      reach, false, false);
}

void Desk::Untouch(const std::vector<PhotoId>& frames) {
  std::vector<session::Word> words;
  std::vector<PhotoId> changed;
  for (const PhotoId id : Known(*impl_->book, frames)) {
    if (TouchOf(id) == record::Handles{}) continue;
    words.push_back(session::Touch{id, record::Handles{}});
    changed.push_back(id);
  }
  const std::string who = Who(*impl_, changed);
  impl_->Say(std::move(words), who + ": the touch is taken away", std::move(changed), false, false);
}

void Desk::SetFollow(double percent, const std::vector<PhotoId>& frames,
                     std::optional<record::RegionKind> region) {
  if (!CheckSetting("follow", percent).ok()) return;
  const bool skin = region == record::RegionKind::kSkin;
  const std::vector<record::RegionKind>& may = FollowRegions();
  if (region && std::find(may.begin(), may.end(), *region) == may.end()) return;
  const record::RegionKind other = region && !skin ? *region : record::RegionKind::kOther;
  const std::vector<PhotoId> known = Known(*impl_->book, frames);
  if (!frames.empty() && known.empty()) return;
  const std::string what =
      fmt::format("{}follow the film to {:g} %{}", region ? std::string(record::Name(*region)) + ": " : "",
                  percent, known.empty() ? "" : " for " + Who(*impl_, known));
  impl_->Say({session::Follow{known, skin, percent, other}}, what, known, known.empty(), false);
}

void Desk::Settle(const std::vector<PhotoId>& frames, bool settled) {
  std::vector<session::Word> words;
  const std::vector<PhotoId> known = Known(*impl_->book, frames);
  for (const PhotoId id : known) words.push_back(session::Settle{id, settled});
  impl_->Say(std::move(words),
             fmt::format("{} {}", Who(*impl_, known), settled ? "settled" : "to be checked"), known, false,
             false);
}

void Desk::Join(PhotoId scan, PhotoId frame) {
  if (impl_->book->Scan(scan) == nullptr || impl_->book->Frame(frame) == nullptr) return;
  impl_->Say({session::Join{scan, frame}},
             fmt::format("{} goes with {}", impl_->NameOf(scan), impl_->NameOf(frame)), {}, true, true);
}

void Desk::Refuse(PhotoId scan, const std::vector<PhotoId>& frames) {
  const std::vector<PhotoId> known = Known(*impl_->book, frames);
  if (impl_->book->Scan(scan) == nullptr || known.empty()) return;
  std::vector<session::Word> words;
  for (const PhotoId frame : known) words.push_back(session::Refuse{scan, frame});
  impl_->Say(std::move(words),
             fmt::format("{} does not go with {}", impl_->NameOf(scan),
                         known.size() == 1 ? impl_->NameOf(known.front()) : Who(*impl_, known)),
             {}, true, true);
}

void Desk::Bar(PhotoId scan, bool barred) {
  const ScanRow* row = impl_->book->Scan(scan);
  if (row == nullptr || row->barred == barred) return;
  impl_->Say(
      {session::Bar{scan, barred}},
      fmt::format(fmt::runtime(barred ? "{} is kept out of the look" : "{} is let into the look"), row->name),
      {}, true, true);
}

void Desk::SplitLight(PhotoId frame) {
  const FrameRow* row = impl_->book->Frame(frame);
  if (row == nullptr || row->light < 0) return;
  if (impl_->book->lights[static_cast<std::size_t>(row->light)].frames.front() == frame) return;
  impl_->Say({session::LightStart{frame}}, fmt::format("a light begins at {}", row->name), {}, true, true);
}

void Desk::JoinLights(int light, int other) {
  const std::vector<record::Light>& lights = impl_->book->lights;
  const int count = static_cast<int>(lights.size());
  if (light == other || std::min(light, other) < 0 || std::max(light, other) >= count) return;
  const record::Light &first = lights[static_cast<std::size_t>(std::min(light, other))],
                      &second = lights[static_cast<std::size_t>(std::max(light, other))];
  std::vector<PhotoId> together = first.frames;
  together.insert(together.end(), second.frames.begin(), second.frames.end());
  impl_->Say({session::LightTogether{std::move(together)}},
             fmt::format("lights {} and {} are one", first.name, second.name), {}, true, true);
}

void Desk::MoveLightEdge(int light, PhotoId frame) {
  const std::vector<record::Light>& lights = impl_->book->lights;
  const FrameRow* row = impl_->book->Frame(frame);
  if (row == nullptr || light < 0 || light + 1 >= static_cast<int>(lights.size())) return;
  if (row->light != light && row->light != light + 1) return;
  const record::Light &first = lights[static_cast<std::size_t>(light)],
                      &second = lights[static_cast<std::size_t>(light) + 1];
  std::vector<PhotoId> together = first.frames;
  together.insert(together.end(), second.frames.begin(), second.frames.end());
  if (together.front() == frame) return;
  impl_->Say({session::LightTogether{std::move(together)}, session::LightStart{frame}},
             fmt::format("the edge of {} and {} lies at {}", first.name, second.name, row->name), {}, true,
             true);
}

void Desk::RenameLight(int light, const std::string& name) {
  const std::vector<record::Light>& lights = impl_->book->lights;
  if (light < 0 || light >= static_cast<int>(lights.size()) || name.empty()) return;
  const record::Light& of = lights[static_cast<std::size_t>(light)];
  if (of.name == name || of.frames.empty()) return;
  impl_->Say({session::LightName{of.frames.front(), name}},
             fmt::format("light {} is called {}", of.name, name), {}, true, false);
}

Status Desk::SetRoll(int roll, const std::string& key, const std::string& value) {
  if (roll < 0 || roll >= static_cast<int>(impl_->book->rolls.size()))
    return Error{ErrorCode::kNotFound, "there is no such roll", "", ""};
  Status fits = CheckRollFact(key, value);
  if (!fits.ok()) return fits;
  const record::Roll& of = impl_->book->rolls[static_cast<std::size_t>(roll)];
  impl_->Say({session::RollFact{of.id, key, value}}, fmt::format("roll {}: {} is {}", of.name, key, value),
             {}, true, key != "name");
  return {};
}

void Desk::SplitRoll(PhotoId scan) {
  const ScanRow* row = impl_->book->Scan(scan);
  if (row == nullptr || row->roll < 0) return;
  const record::Roll& of = impl_->book->rolls[static_cast<std::size_t>(row->roll)];
  if (of.scans.empty() || of.scans.front() == scan) return;
  impl_->Say({SplitAt(of.id, scan)}, fmt::format("roll {}: another roll begins at {}", of.name, row->name),
             {}, true, true);
}

void Desk::JoinRolls(int roll, int other) {
  const std::vector<record::Roll>& rolls = impl_->book->rolls;
  const int count = static_cast<int>(rolls.size());
  if (roll == other || std::min(roll, other) < 0 || std::max(roll, other) >= count) return;
  const record::Roll &first = rolls[static_cast<std::size_t>(roll)],
                     &second = rolls[static_cast<std::size_t>(other)];
  impl_->Say({JoinTo(first.id, second.id)}, fmt::format("rolls {} and {} are one", first.name, second.name),
             {}, true, true);
}

Status Desk::SetClock(const std::string& body, double seconds) {
  if (!std::isfinite(seconds))
    return Error{ErrorCode::kInvalidArgument, "this is not a number of seconds", body, ""};
  const auto said = impl_->book->standing.clock_offset_s.find(body);
  if (said != impl_->book->standing.clock_offset_s.end() && said->second == seconds) return {};
  impl_->Say({session::ClockOffset{body, seconds}}, fmt::format("clock of {} moved by {:g} s", body, seconds),
             {}, true, true);
  return {};
}

Status Desk::TakeLook(const LookWish& wish) {
  Result<session::TakeLook> word = LookWord(wish);
  if (!word.ok()) return word.error();
  if (word->text == impl_->book->standing.look.text) return {};
  const std::string told = word->text.empty()
                               ? "the session begins from what is built in"
                               : fmt::format("the session begins from the look {}", word->name);
  impl_->Say({std::move(word).value()}, told, {}, true, true);
  return {};
}

Status Desk::SetSetting(const std::string& name, double value) {
  Status fits = CheckSetting(name, value);
  if (!fits.ok()) return fits;
  if (session::SettingOf(impl_->book->standing, name) == value) return {};
  const bool solves = name == "follow-scan" || name == "skin-weight" || name == "tolerance";
  impl_->Say({session::Set{name, value}}, fmt::format("{} is {:g} {}", name, value, FindSetting(name)->unit),
             {}, true, solves);
  return {};
}

Status Desk::KeepOrder(const std::string& name, const OrderFieldWords& fields) {
  Result<record::Order> order = OrderWith(impl_->book->standing, name, fields);
  if (!order.ok()) return order.error();
  if (Stands(impl_->book->standing, *order)) return {};
  impl_->Say({session::KeepOrder{*order, false}}, fmt::format("order {}: {}", name, job::Told(*order)), {},
             true, false);
  return {};
}

void Desk::DropOrder(const std::string& name) {
  const auto kept = impl_->book->standing.orders.find(name);
  if (kept == impl_->book->standing.orders.end()) return;
  impl_->Say({session::KeepOrder{kept->second, true}}, fmt::format("order {} dropped", name), {}, true,
             false);
}

Status Desk::SetFraming(const std::vector<PhotoId>& frames, const std::optional<record::Framing>& framing) {
  if (framing && !record::Sound(*framing))
    return Error{
        ErrorCode::kInvalidArgument, "a picture cannot be framed so", "",
        "a cut lies within the picture and is at least 1 % wide and high; straightening goes from -45 to 45 "
        "degrees"};
  const std::vector<PhotoId> known = Known(*impl_->book, frames);
  std::vector<session::Word> words;
  for (const PhotoId id : known)
    words.push_back(session::Frame{id, !framing, framing.value_or(record::Framing{})});
  impl_->Say(std::move(words), fmt::format("{} framed{}", Who(*impl_, known), framing ? "" : " as taken"),
             known, false, false);
  return {};
}

record::Framing Desk::FramingOf(PhotoId frame) const {
  const FrameRow* row = impl_->book->Frame(frame);
  return row == nullptr ? record::Framing{} : job::FramingOf(row->photo, impl_->book->standing);
}

void Desk::KeepState(PhotoId frame, const std::string& name) {
  if (impl_->book->Frame(frame) == nullptr || name.empty()) return;
  impl_->Say({session::KeepState{frame, StateNow(impl_->book->standing, frame, name), true}},
             fmt::format("frame {}: state \u201c{}\u201d kept", impl_->NameOf(frame), name), {frame}, false,
             false);
}

void Desk::DropState(PhotoId frame, const std::string& name) {
  for (const session::KeptState& state : States(frame))
    if (state.name == name)
      impl_->Say({session::KeepState{frame, state, false}},
                 fmt::format("frame {}: state \u201c{}\u201d dropped", impl_->NameOf(frame), name), {frame},
                 false, false);
}

void Desk::TakeUpState(PhotoId frame, const std::string& name) {
  for (const session::KeptState& state : States(frame))
    if (state.name == name)
      impl_->Say(TakeUp(frame, state),
                 fmt::format("frame {}: state \u201c{}\u201d taken up", impl_->NameOf(frame), name), {frame},
                 false, false);
}

std::optional<record::Correction> Desk::CorrectionOfState(PhotoId frame, const std::string& name) const {
  for (const session::KeptState& state : States(frame)) {
    if (state.name != name) continue;
    std::optional<record::Correction> correction = CorrectionWith(frame, state.touch);
    if (!correction) return correction;
    const auto share = [](double percent) { return percent < 0 ? -1 : percent / 100; };
    correction->follow = state.follow / 100;
    correction->follow_skin = state.follow_skin / 100;
    correction->follow_foliage = share(state.follow_foliage);
    correction->follow_sky = share(state.follow_sky);
    return correction;
  }
  return std::nullopt;
}

std::vector<session::KeptState> Desk::States(PhotoId frame) const {
  return StatesOf(impl_->book->standing, frame);
}

}  // namespace samelight::job
