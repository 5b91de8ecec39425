// Taking stock: which pictures there are, which are new, which have moved.
#include <algorithm>
#include <map>
#include <mutex>
#include <set>
#include <unordered_map>

#include "base/file.h"
#include "base/hash.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "job/find_pictures.h"
#include "job/roll_series.h"
#include "job/stages.h"

namespace samelight::job {
namespace {

using record::Photo;
using record::Role;
using session::Stage;

// One found file on its way into the session.
struct Entry {
  FoundPicture found;
  Role role = Role::kFrame;
  std::string path;  // relative to the session
  Photo photo;
  enum class Fate { kKnown, kAdded, kChanged, kMoved, kBack, kFailed } fate = Fate::kKnown;
  Error error;
};

Result<std::string> HashOf(const fs::path& file) {
  Result<std::vector<std::uint8_t>> bytes = ReadFile(file, codec::Limits{}.most_file_bytes);
  if (!bytes.ok()) return bytes.error();
  ContentHash hash;
  hash.Add(bytes->data(), bytes->size());
  return hash.Hex();
}

// Photographs of the session that are not where they were, by size: a new file of the same size may be one of
// them.
class Lost {
 public:
  Lost(const session::Session& session, const std::map<std::string, const Photo*>& known) {
    std::error_code ec;
    for (const auto& [path, photo] : known)
      if (!fs::exists(session.Absolute(path), ec)) by_size_.emplace(photo->bytes, photo);
  }
  // The lost photograph that `file` is, by content. Each is found once. Thread safe.
  const Photo* Claim(const fs::path& file, std::uint64_t bytes, Role role) {
    {
      const std::lock_guard lock(mutex_);
      if (!by_size_.contains(bytes)) return nullptr;
    }
    Result<std::string> hash = HashOf(file);
    if (!hash.ok()) return nullptr;
    const std::lock_guard lock(mutex_);
    const auto [first, last] = by_size_.equal_range(bytes);
    for (auto it = first; it != last; ++it) {
      if (it->second->hash != *hash || it->second->role != role) continue;
      const Photo* photo = it->second;
      by_size_.erase(it);
      return photo;
    }
    return nullptr;
  }
  // Those that nobody claimed.
  std::vector<const Photo*> Rest() const {
    std::vector<const Photo*> rest;
    for (const auto& [bytes, photo] : by_size_) rest.push_back(photo);
    return rest;
  }

 private:
  std::mutex mutex_;
  std::multimap<std::uint64_t, const Photo*> by_size_;
};

// Decides what `entry` is and reads its facts when they are not known.
void Look(Entry& entry, const std::map<std::string, const Photo*>& known, const std::set<PhotoId>& gone,
          Lost& lost) {
  Result<FileState> state = StateOf(entry.found.file);
  if (!state.ok()) {
    entry.fate = Entry::Fate::kFailed;
    entry.error = state.error();
    return;
  }
  const auto it = known.find(entry.path);
  if (it != known.end() && it->second->bytes == state->bytes &&
      it->second->modified_us == state->modified_us) {
    entry.photo = *it->second;
    if (entry.photo.role !=
        entry.role) {  // named as film now, or no longer: everything about it is measured anew
      entry.photo.role = entry.role;
      entry.photo.roll = {};
      entry.photo.roll_position = -1;
      entry.photo.hash.clear();
      entry.fate = Entry::Fate::kChanged;
    } else if (gone.contains(entry.photo.id)) {
      entry.fate = Entry::Fate::kBack;
    }
    return;
  }
  if (it == known.end()) {
    if (const Photo* moved = lost.Claim(entry.found.file, state->bytes, entry.role)) {
      entry.photo = *moved;
      entry.photo.path = entry.path;
      entry.photo.modified_us = state->modified_us;
      entry.fate = Entry::Fate::kMoved;
      return;
    }
  }
  Result<Photo> facts = codec::ReadFacts(entry.found.file);
  if (!facts.ok()) {
    entry.fate = Entry::Fate::kFailed;
    entry.error = facts.error();
    return;
  }
  entry.photo = std::move(facts).value();
  entry.photo.path = entry.path;
  entry.photo.role = entry.role;
  entry.photo.bytes = state->bytes;
  entry.photo.modified_us = state->modified_us;
  entry.photo.hash.clear();
  entry.fate = it == known.end() ? Entry::Fate::kAdded : Entry::Fate::kChanged;
  entry.photo.id = it == known.end() ? PhotoId{} : it->second->id;
  if (it != known.end()) entry.photo.roll = it->second->roll;
}

// Name of a roll for a person: the folder below the one that was named, or that folder itself.
std::string RollName(const FoundPicture& found) {
  const fs::path below = found.folder.lexically_relative(found.root);
  return below.empty() || below == "." ? found.folder.filename().string() : below.generic_string();
}

// Where a roll lies: its folder, and its series of names when the folder holds several.
using RollPlace = std::pair<fs::path, std::string>;

std::vector<RollPlace> RollPlaces(const std::vector<Entry>& entries) {
  std::map<fs::path, std::vector<std::size_t>> in_folder;
  for (std::size_t i = 0; i < entries.size(); ++i)
    if (entries[i].role == Role::kScan) in_folder[entries[i].found.folder].push_back(i);
  std::vector<RollPlace> places(entries.size());
  for (const auto& [folder, indices] : in_folder) {
    std::vector<std::string> stems;
    for (std::size_t i : indices) stems.push_back(entries[i].found.file.stem().string());
    const std::vector<std::string> series = RollSeries(stems);
    for (std::size_t k = 0; k < indices.size(); ++k) places[indices[k]] = {folder, series[k]};
  }
  return places;
}

// One roll per folder of scans, or per series of names in it; a roll that the session knows keeps its id.
Status AssignRolls(session::Session& session, session::Change& change, std::vector<Entry>& entries) {
  const std::vector<RollPlace> places = RollPlaces(entries);
  std::map<RollPlace, RollId> roll_of;
  std::map<RollPlace, int> next_place;
  std::set<std::string> names;
  Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!rolls.ok()) return rolls.error();
  for (const record::Roll& roll : *rolls) names.insert(roll.name);
  for (std::size_t e = 0; e < entries.size(); ++e)
    if (entries[e].role == Role::kScan && entries[e].photo.roll.valid())
      roll_of.emplace(places[e], entries[e].photo.roll);
  for (std::size_t e = 0; e < entries.size(); ++e) {
    Entry& entry = entries[e];
    if (entry.role != Role::kScan || entry.fate == Entry::Fate::kFailed) continue;
    RollId& id = roll_of[places[e]];
    if (!id.valid()) {
      record::Roll roll;
      const std::string base =
          RollName(entry.found) + (places[e].second.empty() ? "" : " " + places[e].second);
      roll.name = base;
      for (int i = 2; names.contains(roll.name); ++i) roll.name = base + " (" + std::to_string(i) + ")";
      names.insert(roll.name);
      Status put = change.Put(roll);
      if (!put.ok()) return put;
      id = roll.id;
    }
    const int place = next_place[places[e]]++;
    if (entry.photo.roll == id && entry.photo.roll_position == place) continue;
    entry.photo.roll = id;
    entry.photo.roll_position = place;
    if (entry.photo.id.valid()) {
      Status put = change.Put(entry.photo);
      if (!put.ok()) return put;
    }
  }
  return {};
}

// The folders among what was named, canonical.
std::vector<fs::path> Folders(std::initializer_list<const std::vector<fs::path>*> named) {
  std::vector<fs::path> folders;
  std::error_code ec;
  for (const std::vector<fs::path>* list : named)
    for (const fs::path& path : *list)
      if (fs::is_directory(path, ec)) folders.push_back(fs::canonical(path, ec));
  return folders;
}

bool IsBelow(const fs::path& file, const std::vector<fs::path>& folders) {
  return std::any_of(folders.begin(), folders.end(), [&](const fs::path& folder) {
    return std::mismatch(folder.begin(), folder.end(), file.begin(), file.end()).first == folder.end();
  });
}

}  // namespace

Result<StockAnswer> TakeStock(session::Session& session, const std::vector<fs::path>& film,
                              const std::vector<fs::path>& digital, const std::vector<fs::path>& leave_out,
                              const Work& work) {
  std::error_code ec;
  std::set<fs::path> ours, ours_and_film;
  for (const fs::path& folder : leave_out) ours.insert(fs::weakly_canonical(folder, ec));
  ours.insert(fs::weakly_canonical(session.cache_folder(), ec));
  ours_and_film = ours;
  for (const fs::path& folder : film) ours_and_film.insert(fs::weakly_canonical(folder, ec));
  for (const fs::path& folder : digital)
    if (ours_and_film.contains(fs::weakly_canonical(folder, ec)))
      return Error{ErrorCode::kInvalidArgument,
                   ours.contains(fs::weakly_canonical(folder, ec))
                       ? "the digital frames lie in the folder that delivered files go to"
                       : "the same folder was given for film and for digital",
                   folder.string(), "give each its own folder"};
  for (const fs::path& folder : film)
    if (ours.contains(fs::weakly_canonical(folder, ec)))
      return Error{ErrorCode::kInvalidArgument, "the scans lie in the folder that delivered files go to",
                   folder.string(), "give each its own folder"};

  Result<FoundPictures> scans = FindPictures(film, ours, work.cancel);
  if (!scans.ok()) return scans.error();
  Result<FoundPictures> frames = FindPictures(digital, ours_and_film, work.cancel);
  if (!frames.ok()) return frames.error();
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<std::vector<session::Delivery>> deliveries = session.Deliveries();
  if (!deliveries.ok()) return deliveries.error();

  std::set<std::string>
      skip;  // what we delivered is no input; a file named as film is not a digital frame too
  for (const session::Delivery& delivery : *deliveries) skip.insert(delivery.output);
  std::vector<Entry> entries;
  for (const Role role : {Role::kScan, Role::kFrame})
    for (const FoundPicture& found : (role == Role::kScan ? scans : frames)->pictures) {
      Entry entry;
      entry.found = found;
      entry.role = role;
      entry.path = session.Relative(found.file);
      if (skip.insert(entry.path).second) entries.push_back(std::move(entry));
    }

  Result<std::vector<Photo>> gone_photos = session.GonePhotos();
  if (!gone_photos.ok()) return gone_photos.error();
  std::map<std::string, const Photo*> known;
  std::set<PhotoId> gone;
  for (const Photo& photo : *photos) known[photo.path] = &photo;
  for (const Photo& photo : *gone_photos) {
    known[photo.path] = &photo;
    gone.insert(photo.id);
  }
  Lost lost(session, known);
  work.progress.Begin("taking stock", static_cast<long>(entries.size()));
  const bool all = ParallelFor(entries.size(), work.cancel, [&](std::size_t i) {
    Look(entries[i], known, gone, lost);
    work.progress.Advance(1);
  });
  work.progress.End();
  if (!all) return Stopped();

  StockAnswer answer;
  std::vector<session::Problem> problems;
  for (const std::vector<Error>* errors : {&scans->errors, &frames->errors})
    for (const Error& error : *errors) problems.push_back(SetAside(Stage::kStock, "set aside", error));
  Result<session::Change> change = session.Begin();
  if (!change.ok()) return change.error();
  Status rolls = AssignRolls(session, *change, entries);
  if (!rolls.ok()) return rolls.error();
  for (Entry& entry : entries) {
    if (entry.fate == Entry::Fate::kFailed) {
      problems.push_back(SetAside(Stage::kStock, "set aside", entry.error));
      continue;
    }
    if (entry.fate == Entry::Fate::kKnown) continue;
    Status put = change->Put(entry.photo);
    if (!put.ok()) return put.error();
    if (gone.contains(entry.photo.id)) put = change->SetGone(entry.photo.id, false);
    if (!put.ok()) return put.error();
    answer.added += entry.fate == Entry::Fate::kAdded || entry.fate == Entry::Fate::kBack;
    answer.changed += entry.fate == Entry::Fate::kChanged;
    answer.moved += entry.fate == Entry::Fate::kMoved;
  }
  const std::vector<fs::path> looked_at = Folders({&film, &digital});
  for (const Photo* photo : lost.Rest()) {
    if (gone.contains(photo->id)) continue;
    if (!IsBelow(session.Absolute(photo->path), looked_at)) {
      ++answer.missing;  // of another folder, which may only be out of reach for now
      continue;
    }
    ++answer.gone;
    Status put = change->SetGone(photo->id, true);
    if (!put.ok()) return put.error();
  }
  // What an earlier call set aside elsewhere is still wrong as long as it is there.
  Result<std::vector<session::Problem>> earlier = session.Problems();
  if (!earlier.ok()) return earlier.error();
  std::vector<session::Problem> standing = problems;
  for (session::Problem& problem : *earlier) {
    const fs::path file = problem.error.file;
    if (problem.stage == Stage::kStock && fs::exists(file, ec) && !IsBelow(file, looked_at) &&
        std::none_of(entries.begin(), entries.end(), [&](const Entry& e) { return e.found.file == file; }))
      standing.push_back(std::move(problem));
  }
  Status put = change->ReplaceProblems(Stage::kStock, standing);
  if (put.ok()) put = change->Commit();
  if (!put.ok()) return put.error();

  photos = session.Photos();
  if (!photos.ok()) return photos.error();
  for (const Photo& photo : *photos) ++(photo.role == Role::kScan ? answer.scans : answer.frames);
  std::set<RollId> seen;
  for (const Photo& photo : *photos)
    if (photo.roll.valid()) seen.insert(photo.roll);
  answer.rolls = static_cast<int>(seen.size());
  answer.problems = Told(problems);
  return answer;
}

Result<StockAnswer> New(const NewRequest& request, const Work& work) {
  if (request.film.empty() && request.digital.empty())
    return Error{ErrorCode::kInvalidArgument, "no folder was given", "",
                 "name them with --film and --digital"};
  Result<std::unique_ptr<session::Session>> session =
      session::Session::Open(request.session, session::Access::kCreate);
  if (!session.ok()) return session.error();
  Result<StockAnswer> answer = TakeStock(**session, request.film, request.digital, {}, work);
  if (answer.ok() && answer->scans + answer->frames == 0)
    return Error{ErrorCode::kNothingToDo, "there is no picture that can be read in these folders", "",
                 "check the folders; raw, JPEG, TIFF and PNG files are read"};
  return answer;
}

}  // namespace samelight::job
