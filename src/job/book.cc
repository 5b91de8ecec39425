#include "job/book.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "job/rolls.h"
#include "job/said.h"
#include "job/stages.h"
#include "job/window_words.h"

namespace samelight::job {
namespace {

using record::Light;
using record::PairKind;

void NameRows(Book& book) {
  std::vector<std::string> paths;
  for (const ScanRow& row : book.scans) paths.push_back(row.photo.path);
  std::vector<std::string> names = report::ShortNames(paths);
  for (std::size_t i = 0; i < names.size(); ++i) book.scans[i].name = std::move(names[i]);
  paths.clear();
  for (const FrameRow& row : book.frames) paths.push_back(row.photo.path);
  names = report::ShortNames(paths);
  for (std::size_t i = 0; i < names.size(); ++i) book.frames[i].name = std::move(names[i]);
}

// The frame of a scan belongs to it; of several scans the surest counts.
void PairFrames(Book& book) {
  for (FrameRow& row : book.frames) {
    row.scan = {};
    row.kind = PairKind::kNone;
  }
  std::unordered_map<PhotoId, double> confidence;
  for (const ScanRow& scan : book.scans) {
    if (scan.pair.kind == PairKind::kNone) continue;
    const int at = book.FrameIndex(scan.pair.frame);
    if (at < 0) continue;
    FrameRow& row = book.frames[static_cast<std::size_t>(at)];
    const double sure = scan.pair.by_person ? 2 : scan.pair.confidence;
    if (row.scan.valid() && confidence[row.photo.id] >= sure) continue;
    confidence[row.photo.id] = sure;
    row.scan = scan.photo.id;
    row.kind = scan.pair.kind;
  }
}

// Which light each row is in. Scans follow their frame; the others stay where pairing put them.
void PlaceInLights(Book& book) {
  for (ScanRow& row : book.scans) row.light = -1;
  for (FrameRow& row : book.frames) row.light = -1;
  for (std::size_t l = 0; l < book.lights.size(); ++l) {
    for (const PhotoId id : book.lights[l].frames)
      if (const int at = book.FrameIndex(id); at >= 0)
        book.frames[static_cast<std::size_t>(at)].light = static_cast<int>(l);
    for (const PhotoId id : book.lights[l].scans)
      if (const int at = book.ScanIndex(id); at >= 0)
        book.scans[static_cast<std::size_t>(at)].light = static_cast<int>(l);
  }
  for (ScanRow& row : book.scans) {
    const FrameRow* frame = row.pair.kind == PairKind::kNone ? nullptr : book.Frame(row.pair.frame);
    if (frame != nullptr && frame->light >= 0) row.light = frame->light;
  }
  for (Light& light : book.lights) light.scans.clear();
  for (const ScanRow& row : book.scans)
    if (row.light >= 0) book.lights[static_cast<std::size_t>(row.light)].scans.push_back(row.photo.id);
  for (FrameRow& row : book.frames)
    row.filmed = row.light >= 0 && !book.lights[static_cast<std::size_t>(row.light)].scans.empty();
}

// Lights that a person split or joined after pairing. Their frames are in the order of the book's rows: what
// lies behind an edge there lies behind it here.
void SplitAndJoin(const session::Standing& standing, const Book& book, std::vector<Light>& lights) {
  for (Light& light : lights)
    std::stable_sort(light.frames.begin(), light.frames.end(),
                     [&](PhotoId a, PhotoId b) { return book.FrameIndex(a) < book.FrameIndex(b); });
  std::int64_t newest = 0;
  for (const Light& light : lights) newest = std::max(newest, light.id.value);
  for (const std::vector<PhotoId>& group : standing.together) {
    const std::set<PhotoId> members(group.begin(), group.end());
    int first = -1;
    for (std::size_t l = 0; l < lights.size();) {
      const bool meant = std::any_of(lights[l].frames.begin(), lights[l].frames.end(),
                                     [&](PhotoId id) { return members.contains(id); });
      if (meant && first >= 0) {
        Light& into = lights[static_cast<std::size_t>(first)];
        into.frames.insert(into.frames.end(), lights[l].frames.begin(), lights[l].frames.end());
        into.scans.insert(into.scans.end(), lights[l].scans.begin(), lights[l].scans.end());
        lights.erase(lights.begin() + static_cast<std::ptrdiff_t>(l));
        continue;
      }
      if (meant) first = static_cast<int>(l);
      ++l;
    }
  }
  for (const PhotoId start : standing.light_starts)
    for (std::size_t l = 0; l < lights.size(); ++l) {
      std::vector<PhotoId>& frames = lights[l].frames;
      const auto at = std::find(frames.begin(), frames.end(), start);
      if (at == frames.end() || at == frames.begin()) continue;
      Light rest = lights[l];
      rest.id.value = ++newest;
      rest.name = lights[l].name + ", later";
      rest.frames.assign(at, frames.end());
      rest.scans.clear();  // those that are paired with these frames follow them
      frames.erase(at, frames.end());
      lights.insert(lights.begin() + static_cast<std::ptrdiff_t>(l) + 1, std::move(rest));
      break;
    }
}

void Restate(const session::Standing& standing, FrameRow& row) {
  record::Correction& c = row.solution.correction;
  const auto touch = standing.touch.find(row.photo.id);
  c.touch = touch == standing.touch.end() ? record::Handles{} : touch->second;
  session::PutFollow(standing, row.photo.id, c);
  row.by_person = standing.settled.contains(row.photo.id);
  row.state = StateOf(standing, row);
}

}  // namespace

FrameState StateOf(const session::Standing& standing, const FrameRow& row) {
  if (!row.solved) return FrameState::kUnpaired;
  if (const auto said = standing.settled.find(row.photo.id); said != standing.settled.end())
    return said->second ? FrameState::kSettled : FrameState::kToCheck;
  if (!row.scan.valid() && !row.filmed) return FrameState::kUnpaired;
  return row.reasons.empty() ? FrameState::kSettled : FrameState::kToCheck;
}

const ScanRow* Book::Scan(PhotoId id) const {
  const int at = ScanIndex(id);
  return at < 0 ? nullptr : &scans[static_cast<std::size_t>(at)];
}
const FrameRow* Book::Frame(PhotoId id) const {
  const int at = FrameIndex(id);
  return at < 0 ? nullptr : &frames[static_cast<std::size_t>(at)];
}
int Book::ScanIndex(PhotoId id) const {
  const auto it = scan_index_.find(id);
  return it == scan_index_.end() ? -1 : it->second;
}
int Book::FrameIndex(PhotoId id) const {
  const auto it = frame_index_.find(id);
  return it == frame_index_.end() ? -1 : it->second;
}

double Book::Level(PhotoId photo) const {
  const auto it = measured->find(photo);
  return it == measured->end() ? std::log2(0.18) : it->second.light.log2_level;  // mid-grey, common practice
}

void Book::Index() {
  scan_index_.clear();
  frame_index_.clear();
  settled = to_check = unpaired = loose_scans = 0;
  for (std::size_t i = 0; i < scans.size(); ++i) {
    scan_index_[scans[i].photo.id] = static_cast<int>(i);
    loose_scans += scans[i].pair.kind == PairKind::kNone ? 1 : 0;
  }
  for (std::size_t i = 0; i < frames.size(); ++i) {
    frame_index_[frames[i].photo.id] = static_cast<int>(i);
    ++(frames[i].state == FrameState::kSettled   ? settled
       : frames[i].state == FrameState::kToCheck ? to_check
                                                 : unpaired);
  }
}

void Apply(const session::Standing& standing, Book& book) {
  book.standing = standing;
  book.tolerance = session::SettingOf(standing, "tolerance");
  std::vector<record::Photo> as_they_are;
  book.rolls = StandingRolls(std::move(book.rolls), standing, {}, as_they_are);
  const std::set<PhotoId> kept_out = KeptOut(standing, book.lights);
  for (ScanRow& row : book.scans) {
    row.barred = kept_out.contains(row.photo.id);
    const auto joined = standing.joined.find(row.photo.id);
    if (joined != standing.joined.end()) {
      if (!row.pair.by_person || row.pair.frame != joined->second)
        row.pair = {
            row.photo.id, joined->second, PairKind::kMoment, 1, true, std::move(row.pair.alternatives)};
    } else if (row.pair.kind != PairKind::kNone &&
               standing.refused.contains({row.photo.id, row.pair.frame})) {
      row.pair = {row.photo.id, {}, PairKind::kNone, 1, true, std::move(row.pair.alternatives)};
    }
    // Nothing is left to choose from: that is an answer too.
    const auto refused = std::erase_if(row.pair.alternatives, [&](const record::PairCandidate& other) {
      return standing.refused.contains({row.photo.id, other.frame});
    });
    if (row.pair.kind == PairKind::kNone && refused > 0 && row.pair.alternatives.empty())
      row.pair = {row.photo.id, {}, PairKind::kNone, 1, true, {}};
  }
  SplitAndJoin(standing, book, book.lights);
  NameLights(standing, book.lights);
  PairFrames(book);
  PlaceInLights(book);
  for (FrameRow& row : book.frames) Restate(standing, row);
  book.Index();
}

Result<std::shared_ptr<const Book>> ReadBook(const session::Session& session) {
  Result<report::Report> report = ReportAsSolved(session, session.folder());
  if (!report.ok()) return report.error();
  Result<session::Standing> said = StandingOf(session);
  if (!said.ok()) return said.error();
  Result<std::vector<session::HistoryEntry>> history = session.History();
  if (!history.ok()) return history.error();
  Result<std::unordered_map<PhotoId, session::MeasuredEntry>> entries = session.Measured();
  if (!entries.ok()) return entries.error();
  Result<std::string> paired = session.MadeFrom(session::Stage::kPair);
  if (!paired.ok()) return paired.error();
  Result<std::string> matched = session.MadeFrom(session::Stage::kMatch);
  if (!matched.ok()) return matched.error();
  const session::Standing& standing = *said;
  Result<bool> current = UpToDate(session, standing);
  if (!current.ok()) return current.error();

  auto book = std::make_shared<Book>();
  book->totals = report::Sum(*report);
  book->skin_spread = report->skin_spread;
  book->seen = std::move(report->seen);
  for (record::Note& note : book->seen) note.text = NoteForWindow(note.text);
  book->session = std::move(report->session);
  book->file = session.file();
  book->rolls = std::move(report->rolls);
  book->lights = std::move(report->lights);
  book->problems = std::move(report->problems);
  for (Problem& problem : book->problems) problem.todo = TodoForWindow(std::move(problem.todo));
  book->notes = std::move(report->notes);
  for (const report::Clock& clock : report->clocks)
    book->clocks.push_back({clock.body, clock.offset_s, clock.confidence});
  book->history = std::move(history).value();
  book->paired = !paired->empty();
  book->matched = !matched->empty();
  book->stale = !*current;
  auto measured = std::make_shared<std::unordered_map<PhotoId, record::Measured>>();
  for (auto& [id, entry] : *entries) (*measured)[id] = std::move(entry.measured);
  book->measured = std::move(measured);

  std::unordered_map<PhotoId, record::Pair> pairs;
  for (record::Pair& pair : report->pairs) pairs[pair.scan] = std::move(pair);
  std::unordered_map<PhotoId, record::FrameSolution> solutions;
  for (record::FrameSolution& solution : report->frames) solutions[solution.frame] = std::move(solution);
  std::unordered_map<RollId, int> roll_at;
  for (std::size_t i = 0; i < book->rolls.size(); ++i) roll_at[book->rolls[i].id] = static_cast<int>(i);
  std::unordered_map<std::string, double> offset_s;
  for (const session::Clock& clock : book->clocks) offset_s[clock.body] = clock.offset_s;
  for (record::Photo& photo : report->photos) {
    if (photo.role == record::Role::kScan) {
      ScanRow row;
      row.pair.scan = photo.id;
      if (const auto it = pairs.find(photo.id); it != pairs.end()) row.pair = std::move(it->second);
      if (const auto it = roll_at.find(photo.roll); it != roll_at.end()) row.roll = it->second;
      if (const auto it = report->scan_nudges.find(photo.id); it != report->scan_nudges.end())
        row.nudge_de = it->second.de;
      row.photo = std::move(photo);
      book->scans.push_back(std::move(row));
      continue;
    }
    FrameRow row;
    row.time_us = INT64_MAX;
    if (photo.capture.time_us) {
      const auto it = offset_s.find(record::BodyName(photo));
      row.time_us =
          *photo.capture.time_us + (it == offset_s.end() ? 0 : static_cast<std::int64_t>(it->second * 1e6));
    }
    row.delivered = report->outputs.contains(photo.id);
    if (const auto it = solutions.find(photo.id); it != solutions.end()) {
      row.solved = true;
      row.solution = std::move(it->second);
      row.solved_under = row.solution.correction;
      row.reasons = row.solution.flags;
      for (const record::LeftOver& l : row.solution.left_over) row.worst = std::max(row.worst, l.after);
    } else {
      row.reasons = {{record::FlagKind::kOther,
                      book->matched ? "not solved: the file was set aside" : "not paired and solved yet",
                      ""}};
    }
    row.photo = std::move(photo);
    book->frames.push_back(std::move(row));
  }
  NameRows(*book);
  book->Index();
  for (const record::Note& note : book->seen) {
    if (const int at = book->ScanIndex(note.photo); at >= 0)
      book->scans[static_cast<std::size_t>(at)].seen.push_back(note.text);
    if (const int at = book->FrameIndex(note.photo); at >= 0)
      book->frames[static_cast<std::size_t>(at)].seen.push_back(note.text);
  }
  Apply(standing, *book);
  return std::shared_ptr<const Book>(std::move(book));
}

}  // namespace samelight::job
