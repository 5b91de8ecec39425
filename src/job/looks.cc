#include "job/looks.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>

#include "base/file.h"
#include "codec/device_link.h"
#include "exchange/clf.h"
#include "exchange/look_file.h"
#include "exchange/look_folder.h"
#include "job/grain_stage.h"
#include "job/said.h"
#include "job/stages.h"
#include "solve/earlier.h"
#include "solve/solve.h"

namespace samelight::job {
namespace {

Result<fs::path> Folder(const fs::path& wished) {
  if (!wished.empty()) return wished;
  fs::path usual = exchange::UsualLookFolder();
  if (usual.empty())
    return Error{ErrorCode::kNotFound, "there is no folder of yours to keep looks in", "",
                 "name one with --looks, or set HOME"};
  return usual;
}

// A session as a look tells of it: every run calls its file alike, folders are told apart.
std::string NameOf(const fs::path& file) {
  std::error_code ec;
  const fs::path whole = fs::absolute(file, ec).lexically_normal();
  return (whole.parent_path().filename() / whole.stem()).generic_string();
}

// What one session teaches, with the grain of its film.
struct Learned {
  std::vector<solve::Solution::Taught> taught;
  record::GrainModel grain;
  std::string note;
};

Result<Learned> LearnFrom(const fs::path& file, const Work& work) {
  Result<std::unique_ptr<session::Session>> session = session::Session::Open(file, session::Access::kRead);
  if (!session.ok()) return session.error();
  const Result<session::Standing> folded = StandingOf(**session);
  if (!folded.ok()) return folded.error();
  const session::Standing& standing = *folded;
  Result<bool> current = UpToDate(**session, standing);
  if (!current.ok()) return current.error();
  if (!*current)
    return Error{ErrorCode::kNothingToDo, "the session is not matched, or something was said since",
                 file.string(), "run `samelight match` on it first"};
  Result<solve::Request> request = RequestOfSession(**session, standing);
  if (!request.ok()) return request.error();
  Status paired = AddPairs(**session, standing, *request);
  if (!paired.ok()) return paired.error();
  request->earlier.reset();  // only what the session says by itself, or the same would be counted again
  Result<solve::Solution> solution = solve::SolveSession(*request, work.progress, work.cancel);
  if (!solution.ok()) return solution.error();
  if (work.cancel.requested()) return Stopped();
  Learned learned;
  learned.taught = std::move(solution->taught);
  for (solve::Solution::Taught& taught : learned.taught) taught.lesson.session = NameOf(file);
  Result<std::vector<record::Photo>> scans = GrainScans(**session);
  if (!scans.ok()) return scans.error();
  Result<record::GrainModel> grain = MeasureGrain(**session, *scans, 0, work);
  if (grain.ok())
    learned.grain = std::move(grain).value();
  else if (grain.error().code == ErrorCode::kCancelled)
    return grain.error();
  else
    learned.note = fmt::format("{}: no grain was measured ({})", file.string(), grain.error().what);
  return learned;
}

std::string NameFor(const std::string& stock, const std::string& lab) {
  const std::string name = stock.empty() ? "unnamed stock" : stock;
  return lab.empty() ? name : name + ", " + lab;
}

// Lessons of one stock and lab, from all sessions.
struct Group {
  std::vector<record::Lesson> lessons;
  record::GrainModel grain;
};

// A name must not be taken for a file, nor for the built-in look.
Status CheckName(const std::string& name) {
  if (name.find('/') == std::string::npos && !name.ends_with(".json") && name != "none") return {};
  return Error{ErrorCode::kInvalidArgument, fmt::format("a look cannot be called '{}'", name), "",
               "choose a name without '/' that does not end in .json"};
}

constexpr int kUsualNodes = 49, kMostNodes = 64;

}  // namespace

Result<session::TakeLook> LookWord(const LookWish& wish) {
  if (wish.name == "none") return session::TakeLook{};
  Result<fs::path> folder = Folder(wish.folder);
  if (!folder.ok()) return folder.error();
  Result<record::LearnedLook> look = exchange::FindLook(*folder, wish.name);
  if (!look.ok()) return look.error();
  return session::TakeLook{look->name, exchange::LookText(*look)};
}

Result<std::optional<record::LearnedLook>> EarlierLook(const session::Standing& standing) {
  if (standing.look.text.empty()) return std::optional<record::LearnedLook>();
  Result<record::LearnedLook> look = exchange::ReadLook(standing.look.text, standing.look.name);
  if (!look.ok()) return look.error().In("the look that the session has taken up");
  return std::optional<record::LearnedLook>(std::move(look).value());
}

Result<LookAnswer> LearnLooks(const LookLearnRequest& request, const Work& work) {
  Result<fs::path> folder = Folder(request.folder);
  if (!folder.ok()) return folder.error();
  Status named = CheckName(request.name);
  if (!named.ok()) return named.error();
  LookAnswer answer;
  answer.folder = *folder;
  std::map<std::pair<std::string, std::string>, Group> groups;
  for (const fs::path& file : request.sessions) {
    Result<Learned> learned = LearnFrom(file, work);
    if (!learned.ok()) {
      if (learned.error().code == ErrorCode::kCancelled) return learned.error();
      answer.problems.push_back(report::ProblemFrom("not learned from", learned.error()));
      continue;
    }
    if (!learned->note.empty()) answer.notes.push_back(learned->note);
    for (solve::Solution::Taught& taught : learned->taught) {
      if (!request.stock.empty() && taught.stock != request.stock) continue;
      if (!request.lab.empty() && taught.lab != request.lab) continue;
      Group& group = groups[{taught.stock, taught.lab}];
      group.lessons.push_back(std::move(taught.lesson));
      if (learned->grain.patches > group.grain.patches) group.grain = learned->grain;
    }
  }
  if (groups.empty()) {
    if (!answer.problems.empty()) {
      const Problem& first = answer.problems.front();
      return Error{first.code, first.why, first.file, first.todo};
    }
    return Error{ErrorCode::kNothingToDo, "no scan of these sessions taught anything of such a film", "",
                 "see `samelight show SESSION` for their rolls, stocks and labs"};
  }
  if (!request.name.empty() && groups.size() > 1) {
    std::string names;
    for (const auto& [key, group] : groups)
      names += (names.empty() ? "" : "; ") + NameFor(key.first, key.second);
    return Error{ErrorCode::kInvalidArgument,
                 "these sessions hold several films, but only one name was given", "",
                 "choose one with --stock and --lab out of: " + names};
  }
  for (auto& [key, group] : groups) {
    const std::string name = request.name.empty() ? NameFor(key.first, key.second) : request.name;
    named = CheckName(name);
    if (!named.ok()) return named.error();
    if (request.add) {
      Result<record::LearnedLook> before = exchange::FindLook(*folder, name);
      if (!before.ok() && before.error().code != ErrorCode::kNotFound) return before.error();
      if (before.ok()) {
        if (group.grain.patches < before->grain.patches) group.grain = before->grain;
        for (record::Lesson& lesson : before->lessons)  // a session that is learned again counts once
          if (std::none_of(group.lessons.begin(), group.lessons.end(),
                           [&](const record::Lesson& l) { return l.session == lesson.session; }))
            group.lessons.push_back(std::move(lesson));
      }
    }
    if (group.lessons.size() > static_cast<std::size_t>(exchange::kMostLessons))
      return Error{ErrorCode::kTooLarge,
                   fmt::format("a look can learn from {} sessions at most", exchange::kMostLessons), name,
                   "leave the oldest out"};
    record::LearnedLook look = solve::Merge(std::move(group.lessons));
    look.name = name;
    look.stock = key.first;
    look.lab = key.second;
    look.grain = group.grain;
    look.source = look.lessons.front().source;
    for (const record::Lesson& lesson : look.lessons)
      if (lesson.source != look.source) look.source.clear();
    Result<fs::path> kept = exchange::KeepLook(*folder, look);
    if (!kept.ok()) return kept.error();
    answer.files.push_back(std::move(kept).value());
    answer.looks.push_back(std::move(look));
  }
  return answer;
}

Result<LookAnswer> ListLooks(const fs::path& wished) {
  Result<fs::path> folder = Folder(wished);
  if (!folder.ok()) return folder.error();
  Result<exchange::KeptLooks> kept = exchange::LooksIn(*folder);
  if (!kept.ok()) return kept.error();
  LookAnswer answer;
  answer.folder = *folder;
  answer.looks = std::move(kept->looks);
  for (const Error& error : kept->problems)
    answer.problems.push_back(report::ProblemFrom("cannot be used", error));
  return answer;
}

std::vector<std::string> OfferedLooks(const session::Standing& standing,
                                      const std::vector<record::Roll>& rolls, const fs::path& folder) {
  if (!standing.look.text.empty()) return {};
  const Result<LookAnswer> kept = ListLooks(folder);
  if (!kept.ok()) return {};
  std::vector<std::string> names;
  for (const record::LearnedLook& look : kept->looks)
    if (rolls.empty() || std::any_of(rolls.begin(), rolls.end(), [&](const record::Roll& roll) {
          return !roll.stock.empty() && roll.stock == look.stock && roll.lab == look.lab;
        }))
      names.push_back(look.name);
  return names;
}

std::string OfferOf(const session::Standing& standing, const std::vector<record::Roll>& rolls,
                    const fs::path& folder) {
  std::vector<std::string> names = OfferedLooks(standing, rolls, folder);
  for (std::string& name : names) name = "'" + name + "'";
  if (names.empty()) return {};
  return fmt::format("Earlier sessions taught {}: begin from {} with --look.", fmt::join(names, ", "),
                     names.size() == 1 ? "it" : "one of them");
}

Result<LookAnswer> ShowLook(const LookWish& wish) {
  Result<fs::path> folder = Folder(wish.folder);
  if (!folder.ok()) return folder.error();
  Result<record::LearnedLook> look = exchange::FindLook(*folder, wish.name);
  if (!look.ok()) return look.error();
  LookAnswer answer;
  answer.folder = *folder;
  answer.looks.push_back(std::move(look).value());
  return answer;
}

Result<LookExportAnswer> ExportLook(const LookExportRequest& request, const Work& work) {
  const std::string ending = request.file.extension().string();
  const bool clf = ending == ".clf";
  if (!clf && ending != ".icc" && ending != ".icm")
    return Error{ErrorCode::kInvalidArgument, "the kind of file is not known by its ending",
                 request.file.string(), "end its name in .clf (Common LUT Format) or .icc (device link)"};
  if (request.nodes != 0 && (request.nodes < 9 || request.nodes > kMostNodes))
    return Error{ErrorCode::kInvalidArgument,
                 fmt::format("a table has 9 to {} nodes along an axis", kMostNodes), "", ""};
  Result<LookAnswer> shown = ShowLook(request.look);
  if (!shown.ok()) return shown.error();
  const record::LearnedLook& learned = shown->looks.front();
  const exchange::LookInLight look = exchange::InUsualLight(learned, request.exposure_ev);
  exchange::Shaper shaper;
  if (!clf) shaper.most = 1;  // integer samples end there
  LookExportAnswer answer;
  answer.file = request.file;
  answer.kind = clf ? "CLF" : "ICC device link";
  answer.nodes = request.nodes == 0 ? kUsualNodes : request.nodes;
  work.progress.Begin("making the table", answer.nodes);
  const exchange::LookTable table =
      exchange::MakeTable(look, shaper, answer.nodes, clf, work.progress, work.cancel);
  work.progress.End();
  if (work.cancel.requested()) return Stopped();
  work.progress.Begin("comparing it with the look", 1);
  std::vector<Vec3> probes;
  for (const Vec3& probe : exchange::ProbeColours(shaper.most)) probes.push_back(table.At(probe));
  const exchange::TableError error = exchange::ErrorOf(look, shaper.most, probes);
  answer.mean = error.mean;
  answer.most = error.most;
  work.progress.Advance(1);
  work.progress.End();
  if (work.cancel.requested()) return Stopped();
  work.progress.Begin("writing the file", 1);
  Status written;
  if (clf) {
    written = WriteFileWhole(request.file, exchange::ClfText(table, learned.name));
  } else {
    Result<std::vector<std::uint8_t>> link =
        codec::DeviceLink([&](double x) { return shaper.Shaped(x); }, answer.nodes, table.rgb, learned.name);
    if (!link.ok()) return link.error();
    written = WriteFileWhole(request.file, *link);
  }
  if (!written.ok()) return written.error();
  work.progress.Advance(1);
  work.progress.End();
  return answer;
}

}  // namespace samelight::job
