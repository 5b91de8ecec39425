// The entries that only ask, and those that turn a person's change over.
#include <algorithm>

#include <fmt/format.h>

#include "job/names.h"
#include "job/parcels.h"
#include "job/said.h"
#include "job/stages.h"

namespace samelight::job {
namespace {

using record::Photo;

Result<std::unique_ptr<session::Session>> Reader(const fs::path& file) {
  return session::Session::Open(file, session::Access::kRead);
}

// Names of photographs as the reports use them: unique among scans, and among frames.
std::unordered_map<PhotoId, std::string> NamesOf(const std::vector<Photo>& photos) {
  std::unordered_map<PhotoId, std::string> names;
  for (const record::Role role : {record::Role::kScan, record::Role::kFrame}) {
    std::vector<std::string> paths;
    std::vector<PhotoId> ids;
    for (const Photo& photo : photos)
      if (photo.role == role) {
        paths.push_back(photo.path);
        ids.push_back(photo.id);
      }
    std::vector<std::string> shorter = report::ShortNames(paths);
    for (std::size_t i = 0; i < ids.size(); ++i) names[ids[i]] = std::move(shorter[i]);
  }
  return names;
}

std::string NameIn(const std::unordered_map<PhotoId, std::string>& names, PhotoId id) {
  const auto it = names.find(id);
  return it == names.end() ? std::string() : it->second;
}

std::string LightOf(const report::Report& report, PhotoId id) {
  for (const record::Light& light : report.lights)
    for (const std::vector<PhotoId>* members : {&light.frames, &light.scans})
      if (std::find(members->begin(), members->end(), id) != members->end()) return light.name;
  return {};
}

Result<UndoAnswer> Turn(const fs::path& file, bool undo) {
  Result<std::unique_ptr<session::Session>> session = session::Session::Open(file, session::Access::kWrite);
  if (!session.ok()) return session.error();
  UndoAnswer answer;
  {
    Result<session::Change> change = (*session)->Begin();
    if (!change.ok()) return change.error();
    Result<std::optional<std::string>> what = undo ? change->Undo() : change->Redo();
    if (!what.ok()) return what.error();
    answer.what = what->value_or("");
    Status committed = change->Commit();
    if (!committed.ok()) return committed.error();
  }
  Result<std::vector<session::HistoryEntry>> history = (*session)->History();
  if (!history.ok()) return history.error();
  for (const session::HistoryEntry& entry : *history)
    ++(entry.standing ? answer.standing : answer.taken_back);
  return answer;
}

}  // namespace

Result<report::Report> Show(const fs::path& file) {
  Result<std::unique_ptr<session::Session>> session = Reader(file);
  if (!session.ok()) return session.error();
  return MakeReport(**session, (*session)->folder());
}

std::string JsonOf(const report::Report& report) { return report::JsonText(report); }

Result<PictureAnswer> ShowPicture(const fs::path& file, const std::string& picture) {
  Result<report::Report> report = Show(file);
  if (!report.ok()) return report.error();
  Result<PhotoId> id = FindPhoto(report->photos, picture);
  if (!id.ok()) return id.error();
  const std::unordered_map<PhotoId, std::string> names = NamesOf(report->photos);
  PictureAnswer answer;
  for (const Photo& photo : report->photos)
    if (photo.id == *id) answer.photo = photo;
  answer.name = NameIn(names, *id);
  answer.light = LightOf(*report, *id);
  for (const record::Roll& roll : report->rolls)
    if (answer.photo.roll.valid() && roll.id == answer.photo.roll) answer.roll = roll.name;
  for (const record::Pair& pair : report->pairs) {
    if (pair.scan == *id) {
      answer.pair = pair;
      answer.partner = NameIn(names, pair.frame);
      for (const record::PairCandidate& other : pair.alternatives)
        answer.alternatives.emplace_back(NameIn(names, other.frame), other);
    } else if (pair.frame == *id && pair.kind != record::PairKind::kNone) {
      answer.scans.emplace_back(NameIn(names, pair.scan), pair);
    }
  }
  for (const record::FrameSolution& solution : report->frames)
    if (solution.frame == *id) {
      answer.solution = solution;
      answer.partner = NameIn(names, solution.scan);
    }
  if (answer.photo.role == record::Role::kFrame) {
    Result<std::unique_ptr<session::Session>> session = Reader(file);
    if (!session.ok()) return session.error();
    Result<session::Standing> said = StandingOf(**session);
    if (!said.ok()) return said.error();
    answer.framing = FramingOf(answer.photo, *said);
  }
  const auto output = report->outputs.find(*id);
  if (output != report->outputs.end()) answer.output = output->second;
  return answer;
}

Result<CheckAnswer> Check(const fs::path& file) {
  Result<report::Report> report = Show(file);
  if (!report.ok()) return report.error();
  const std::unordered_map<PhotoId, std::string> names = NamesOf(report->photos);
  CheckAnswer answer;
  answer.totals = report::Sum(*report);
  std::unordered_map<PhotoId, const record::FrameSolution*> solution_of;
  for (const record::FrameSolution& solution : report->frames) solution_of[solution.frame] = &solution;
  for (const Photo& photo : report->photos) {
    const auto it = solution_of.find(photo.id);
    if (it == solution_of.end() || it->second->flags.empty()) continue;
    const record::FrameSolution& solution = *it->second;
    CheckAnswer::Frame frame;
    frame.name = NameIn(names, photo.id);
    frame.light = LightOf(*report, photo.id);
    frame.scan = NameIn(names, solution.scan);
    for (const record::LeftOver& left : solution.left_over)
      if (left.after > frame.left_over) {
        frame.left_over = left.after;
        frame.worst_region = report::RegionName(left);
      }
    frame.reasons = solution.flags;
    answer.to_check.push_back(std::move(frame));
  }
  for (const record::Pair& pair : report->pairs)
    if (pair.kind == record::PairKind::kNone) answer.scans_without_frame.push_back(NameIn(names, pair.scan));
  for (const record::Note& note : report->seen) answer.seen.push_back({NameIn(names, note.photo), note.text});
  for (const record::Light& light : report->lights)
    for (const report::Report::SkinSpread& s : report->skin_spread)
      if (s.light == light.id) answer.skin.push_back({light.name, s.frames, s.sigma});
  answer.notes = report->notes;
  if (report->frames.empty())
    answer.notes.emplace_back("nothing is solved yet: run `samelight match SESSION`");
  answer.problems = report->problems;
  return answer;
}

Result<UndoAnswer> Undo(const fs::path& session) { return Turn(session, true); }
Result<UndoAnswer> Redo(const fs::path& session) { return Turn(session, false); }

}  // namespace samelight::job
