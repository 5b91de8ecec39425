// The session file: everything that is known about a session but pixels, in one SQLite file.
//
// One writer at a time (a lock file beside the session, given up by the system when its process dies);
// readers may read beside a writer and see the last committed state. What is written is written inside a
// Change and lost unless that is committed. Not thread safe: one thread at a time per Session.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "base/result.h"
#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"
#include "record/region.h"
#include "session/words.h"

namespace samelight::session {

class Database;
class Lock;

// The steps of the work, in order; each keeps what it made and from what.
enum class Stage { kStock, kMeasure, kPair, kMatch, kDeliver };
const char* Name(Stage stage);  // "stock", "measure", "pair", "match", "deliver"

// A file that was set aside, or could not be delivered.
struct Problem {
  Stage stage = Stage::kStock;
  std::string what;  // what it means: "set aside", "not delivered"
  Error error;       // the fault; its file as a person would name it, empty: about the session
};

// How a body's clock is moved to meet the first body's.
struct Clock {
  std::string body;
  double offset_s = 0;
  double confidence = 0;
};

// The lab's own correction of one scan, CIEDE2000 over usual colours; and how far these move in the lights
// with film when the scan is taken out.
struct Nudge {
  PhotoId scan;
  double de = 0, influence = 0;
};

// How scans of one roll differ among themselves by the lab's own corrections, CIEDE2000 over usual colours.
struct RollSpread {
  RollId roll;
  int scans = 0;
  double de = 0;
};

struct MeasuredEntry {
  std::string hash;  // content hash of the file that was measured
  record::Measured measured;
};

// What pairing found.
struct PairResult {
  std::vector<record::Light> lights;
  std::vector<record::Pair> pairs;
  std::vector<Clock> clocks;
  std::vector<record::Correspondence> scan_to_frame, frame_to_frame;
  std::vector<record::Note> notes;  // on single photographs, in the order of the photographs
};

// What solving found.
struct MatchResult {
  std::vector<record::FrameSolution> frames;
  std::vector<Nudge> nudges;
  std::vector<RollSpread> rolls;
  std::vector<std::string> notes;
};

// One delivered file, or one that was begun (`done` false: the file under this name, if any, is ours all the
// same).
struct Delivery {
  std::string output;  // path relative to the session's folder, '/' between parts
  PhotoId frame;
  std::string order;
  std::string digest;  // of everything that decides the pixels and the file
  bool done = false;
};

// One change by a person.
struct HistoryEntry {
  std::int64_t step = 0;
  std::int64_t made_us = 0;  // since 1970-01-01, UTC
  std::string what;          // in plain words
  bool standing = true;      // false: taken back
};

enum class Access {
  kRead,    // must exist; nothing is written
  kWrite,   // must exist
  kCreate,  // made when it does not exist
};

class Change;

class Session {
 public:
  // kNotFound (and not kCreate), kBusy (another writer), kUnsupported (not a session), kDamaged, kNewerSchema
  // (written by a later version; left as it is), kPermission, kNoSpace. An older schema is brought up to date
  // first.
  static Result<std::unique_ptr<Session>> Open(const std::filesystem::path& file, Access access);
  ~Session();
  // The same session for another thread, under the same lock: both may write, one change after the other.
  Result<std::unique_ptr<Session>> Beside() const;
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  const std::filesystem::path& file() const { return file_; }
  // The folder that relative paths start from.
  std::filesystem::path folder() const { return file_.parent_path(); }
  // Where proxies and analysis pictures are kept: "<name>.cache" beside the session; may be deleted at any
  // time.
  std::filesystem::path cache_folder() const;
  // A stored relative path as one that can be opened, and back.
  std::filesystem::path Absolute(const std::string& relative) const;
  std::string Relative(const std::filesystem::path& path) const;

  Result<std::vector<record::Photo>> Photos() const;      // by id: the order in which they came
  Result<std::vector<record::Photo>> GonePhotos() const;  // known, but their files were taken away
  Result<std::vector<record::Roll>> Rolls() const;        // with their scans in roll order
  Result<std::unordered_map<PhotoId, MeasuredEntry>> Measured() const;
  Result<PairResult> Pairs() const;
  Result<PairResult> PairsWithoutMatches() const;  // the same without the (large) correspondences
  Result<MatchResult> Match() const;
  Result<std::vector<Delivery>> Deliveries() const;
  Result<std::vector<Problem>> Problems() const;
  // What `stage` was made from; empty: never made.
  Result<std::string> MadeFrom(Stage stage) const;
  // A person's words that stand, oldest first, and the whole history with what was taken back.
  Result<std::vector<Word>> Words() const;
  Result<std::vector<HistoryEntry>> History() const;

  // Starts a change; one at a time.
  Result<Change> Begin();

 private:
  friend class Change;
  Session();
  Result<std::vector<record::Photo>> ReadPhotos(bool gone) const;
  Result<PairResult> ReadPairs(bool with_matches) const;
  std::filesystem::path file_;
  std::shared_ptr<Lock> lock_;  // before the database: released after it is closed
  std::unique_ptr<Database> database_;
};

// Writes that belong together. Goes away without effect unless Commit() succeeds.
class Change {
 public:
  Change(Change&& other) noexcept;
  Change& operator=(Change&&) = delete;
  ~Change();
  Status Commit();

  // Adds (invalid id: one is given, and set) or replaces.
  Status Put(record::Photo& photo);
  // A photo that is gone is in no answer but GonePhotos() until it is back; what is known of it is kept.
  Status SetGone(PhotoId photo, bool gone);
  Status Put(record::Roll& roll);  // its scans are kept with the photos (Photo::roll), not here
  Status PutMeasured(PhotoId photo, const MeasuredEntry& entry);
  Status ReplacePairs(const PairResult& result);
  Status ReplaceMatch(const MatchResult& result);
  Status Put(const Delivery& delivery);
  // Replaces all problems of a stage.
  Status ReplaceProblems(Stage stage, const std::vector<Problem>& problems);
  Status SetMadeFrom(Stage stage, const std::string& digest);

  // One step of a person's history; `what` names it in plain words. What had been taken back is gone after
  // this.
  Status Say(const std::vector<Word>& words, const std::string& what);
  // Takes back the last step that stands / brings back the last one taken back. Returns its name; empty:
  // there is none.
  Result<std::optional<std::string>> Undo();
  Result<std::optional<std::string>> Redo();

 private:
  friend class Session;
  explicit Change(Database* database) : database_(database) {}
  Database* database_;
};

}  // namespace samelight::session
