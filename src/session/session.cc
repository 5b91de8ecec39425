#include "session/session.h"

#include <algorithm>
#include <system_error>

#include "session/lock.h"
#include "session/pack.h"
#include "session/schema.h"
#include "session/sqlite.h"

namespace samelight::session {
namespace {

namespace fs = std::filesystem;

template <class Enum>
bool InRange(std::int64_t value, Enum last) {
  return value >= 0 && value <= static_cast<std::int64_t>(last);
}

std::optional<record::Photo> PhotoFrom(const Row& row) {
  record::Photo photo;
  photo.id.value = row.Int(0);
  if (!InRange(row.Int(1), record::Role::kFrame) || !InRange(row.Int(2), record::Encoding::kPng))
    return std::nullopt;
  photo.role = static_cast<record::Role>(row.Int(1));
  photo.encoding = static_cast<record::Encoding>(row.Int(2));
  photo.path = row.Text(3);
  photo.hash = row.Text(4);
  photo.bytes = static_cast<std::uint64_t>(row.Int(5));
  photo.modified_us = row.Int(6);
  photo.width_px = static_cast<int>(row.Int(7));
  photo.height_px = static_cast<int>(row.Int(8));
  photo.roll.value = row.Int(9);
  photo.roll_position = static_cast<int>(row.Int(10));
  if (!UnpackFacts(row.Blob(11), photo)) return std::nullopt;
  return photo;
}

ErrorCode CodeNamed(const std::string& name) {
  for (int i = 0; i < static_cast<int>(ErrorCode::kInternal); ++i)
    if (name == ErrorCodeName(static_cast<ErrorCode>(i))) return static_cast<ErrorCode>(i);
  return ErrorCode::kInternal;
}

template <class T>
std::optional<T> BlobOf(const Row& row) {
  T value;
  if (!Unpack(row.Blob(0), value)) return std::nullopt;
  return value;
}

}  // namespace

const char* Name(Stage stage) {
  switch (stage) {
    case Stage::kStock:
      return "stock";
    case Stage::kMeasure:
      return "measure";
    case Stage::kPair:
      return "pair";
    case Stage::kMatch:
      return "match";
    case Stage::kDeliver:
      return "deliver";
  }
  return "stock";
}

Session::Session() = default;
Session::~Session() = default;

Result<std::unique_ptr<Session>> Session::Open(const fs::path& file, Access access) {
  std::error_code ec;
  std::unique_ptr<Session> session(new Session);
  session->file_ = fs::weakly_canonical(fs::absolute(file, ec), ec);
  if (ec)
    return Error{ErrorCode::kNotFound, "the session's folder could not be found", file.string(),
                 "check the name"};
  const bool exists = fs::is_regular_file(session->file_, ec);
  if (!exists && access != Access::kCreate)
    return Error{ErrorCode::kNotFound, "there is no such session", file.string(),
                 "check the name, or make it with `samelight new`"};
  if (!exists && fs::exists(session->file_, ec))
    return Error{ErrorCode::kInvalidArgument, "a session is a file, and this is not one", file.string(),
                 "name a file, such as wedding.samelight"};

  const auto in_file = [&](Error error) {
    error.file = file.string();
    return error;
  };
  if (access != Access::kRead) {
    const fs::path lock_file = session->folder() / ("." + session->file_.filename().string() + ".lock");
    Result<std::unique_ptr<Lock>> lock = Lock::Take(lock_file, "the session " + file.string());
    if (!lock.ok()) return lock.error();
    session->lock_ = std::move(lock).value();
  }

  const int flags = access == Access::kRead    ? SQLITE_OPEN_READONLY
                    : access == Access::kWrite ? SQLITE_OPEN_READWRITE
                                               : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
  Result<std::unique_ptr<Database>> database = Database::Open(session->file_, flags);
  if (!database.ok()) return in_file(database.error());
  Result<int> version = CheckSchema(**database);
  if (!version.ok() && access == Access::kRead &&
      (version.error().code == ErrorCode::kNotFound || version.error().code == ErrorCode::kPermission)) {
    // On a read-only disk nothing can be made beside the file; without a writer it is safe to read it alone.
    database = Database::Open(session->file_, flags, true);
    if (!database.ok()) return in_file(database.error());
    version = CheckSchema(**database);
  }
  if (!version.ok()) return in_file(version.error());
  if (*version == 0 && access != Access::kCreate)
    return Error{ErrorCode::kUnsupported, "this file is not a samelight session", file.string(),
                 "name the session file"};
  if (*version < NewestSchema()) {
    if (access == Access::kRead) {
      // Reading starts with bringing the file up to date, which takes a writer.
      database = std::unique_ptr<Database>();
      Result<std::unique_ptr<Session>> writer = Open(file, Access::kWrite);
      if (!writer.ok()) return writer.error();
      writer = std::unique_ptr<Session>();
      return Open(file, Access::kRead);
    }
    if (*version == 0) {
      Status wal = (*database)->Script("PRAGMA journal_mode=WAL");
      if (!wal.ok()) return in_file(wal.error());
    }
    Status migrated = Migrate(**database, *version);
    if (!migrated.ok()) return in_file(migrated.error());
  }
  if (access != Access::kRead) {
    // In WAL mode NORMAL cannot damage the file; at worst the last changes are lost when the power fails.
    Status mode = (*database)->Script("PRAGMA synchronous=NORMAL; PRAGMA journal_mode=WAL");
    if (!mode.ok()) return in_file(mode.error());
  }
  session->database_ = std::move(database).value();
  return session;
}

Result<std::unique_ptr<Session>> Session::Beside() const {
  std::unique_ptr<Session> session(new Session);
  session->file_ = file_;
  session->lock_ = lock_;
  Result<std::unique_ptr<Database>> database = Database::Open(file_, SQLITE_OPEN_READWRITE);
  if (!database.ok()) return database.error();
  Status mode = (*database)->Script("PRAGMA synchronous=NORMAL");
  if (!mode.ok()) return mode.error();
  session->database_ = std::move(database).value();
  return session;
}

fs::path Session::cache_folder() const { return folder() / (file_.stem().string() + ".cache"); }

fs::path Session::Absolute(const std::string& relative) const {
  return (folder() / fs::path(relative)).lexically_normal();
}

std::string Session::Relative(const fs::path& path) const {
  std::error_code ec;
  fs::path full = fs::weakly_canonical(fs::absolute(path, ec), ec);
  if (ec) full = fs::absolute(path);
  return full.lexically_relative(folder()).generic_string();
}

Result<std::vector<record::Photo>> Session::Photos() const { return ReadPhotos(false); }
Result<std::vector<record::Photo>> Session::GonePhotos() const { return ReadPhotos(true); }

Result<std::vector<record::Photo>> Session::ReadPhotos(bool gone) const {
  return database_->Rows<record::Photo>(
      "SELECT id,role,encoding,path,hash,bytes,modified_us,width_px,height_px,roll,roll_position,facts FROM "
      "photo "
      "WHERE gone=? ORDER BY id",
      PhotoFrom, gone ? 1 : 0);
}

Result<std::vector<record::Roll>> Session::Rolls() const {
  Result<std::vector<record::Roll>> rolls = database_->Rows<record::Roll>(
      "SELECT id,name,stock,lab,black_and_white,push_ev FROM roll ORDER BY id", [](const Row& row) {
        record::Roll roll;
        roll.id.value = row.Int(0);
        roll.name = row.Text(1);
        roll.stock = row.Text(2);
        roll.lab = row.Text(3);
        roll.black_and_white = row.Int(4) != 0;
        roll.push_ev = row.Real(5);
        return std::optional(roll);
      });
  if (!rolls.ok()) return rolls;
  for (record::Roll& roll : *rolls) {
    Result<std::vector<PhotoId>> scans = database_->Rows<PhotoId>(
        "SELECT id FROM photo WHERE roll=? AND gone=0 ORDER BY roll_position,id",
        [](const Row& row) { return std::optional(PhotoId{row.Int(0)}); }, roll.id.value);
    if (!scans.ok()) return scans.error();
    roll.scans = std::move(scans).value();
  }
  return rolls;
}

Result<std::unordered_map<PhotoId, MeasuredEntry>> Session::Measured() const {
  using Entry = std::pair<PhotoId, MeasuredEntry>;
  Result<std::vector<Entry>> rows = database_->Rows<Entry>(
      "SELECT photo,hash,facts FROM measured", [](const Row& row) -> std::optional<Entry> {
        Entry entry{PhotoId{row.Int(0)}, {row.Text(1), {}}};
        if (!Unpack(row.Blob(2), entry.second.measured)) return std::nullopt;
        return entry;
      });
  if (!rows.ok()) return rows.error();
  std::unordered_map<PhotoId, MeasuredEntry> all;
  for (Entry& entry : *rows) all.insert(std::move(entry));
  return all;
}

Result<PairResult> Session::Pairs() const { return ReadPairs(true); }
Result<PairResult> Session::PairsWithoutMatches() const { return ReadPairs(false); }

Result<PairResult> Session::ReadPairs(bool with_matches) const {
  PairResult result;
  Result<std::vector<record::Light>> lights = database_->Rows<record::Light>(
      "SELECT id,name,mired,duv,frames,scans,narrow_band FROM light ORDER BY place",
      [](const Row& row) -> std::optional<record::Light> {
        record::Light light;
        light.id.value = row.Int(0);
        light.name = row.Text(1);
        light.mired = row.Real(2);
        light.duv = row.Real(3);
        light.narrow_band = row.Int(6) != 0;
        if (!Unpack(row.Blob(4), light.frames) || !Unpack(row.Blob(5), light.scans)) return std::nullopt;
        return light;
      });
  if (!lights.ok()) return lights.error();
  result.lights = std::move(lights).value();

  Result<std::vector<record::Note>> notes =
      database_->Rows<record::Note>("SELECT photo,text FROM seen ORDER BY place", [](const Row& row) {
        return std::optional<record::Note>({PhotoId{row.Int(0)}, row.Text(1)});
      });
  if (!notes.ok()) return notes.error();
  result.notes = std::move(notes).value();

  const auto kind_ok = [](std::int64_t kind) { return InRange(kind, record::PairKind::kNone); };
  Result<std::vector<record::Pair>> pairs =
      database_->Rows<record::Pair>("SELECT scan,frame,kind,confidence,by_person FROM pair ORDER BY place",
                                    [&](const Row& row) -> std::optional<record::Pair> {
                                      if (!kind_ok(row.Int(2))) return std::nullopt;
                                      record::Pair pair;
                                      pair.scan.value = row.Int(0);
                                      pair.frame.value = row.Int(1);
                                      pair.kind = static_cast<record::PairKind>(row.Int(2));
                                      pair.confidence = row.Real(3);
                                      pair.by_person = row.Int(4) != 0;
                                      return pair;
                                    });
  if (!pairs.ok()) return pairs.error();
  result.pairs = std::move(pairs).value();
  for (record::Pair& pair : result.pairs) {
    Result<std::vector<record::PairCandidate>> others = database_->Rows<record::PairCandidate>(
        "SELECT frame,kind,confidence FROM alternative WHERE scan=? ORDER BY place",
        [&](const Row& row) -> std::optional<record::PairCandidate> {
          if (!kind_ok(row.Int(1))) return std::nullopt;
          record::PairCandidate candidate;
          candidate.frame.value = row.Int(0);
          candidate.kind = static_cast<record::PairKind>(row.Int(1));
          candidate.confidence = row.Real(2);
          return candidate;
        },
        pair.scan.value);
    if (!others.ok()) return others.error();
    pair.alternatives = std::move(others).value();
  }

  Result<std::vector<Clock>> clocks =
      database_->Rows<Clock>("SELECT body,offset_s,confidence FROM clock ORDER BY place", [](const Row& row) {
        return std::optional(Clock{row.Text(0), row.Real(1), row.Real(2)});
      });
  if (!clocks.ok()) return clocks.error();
  result.clocks = std::move(clocks).value();

  if (!with_matches) return result;
  for (const bool of_scan : {true, false}) {
    Result<std::vector<record::Correspondence>> matches = database_->Rows<record::Correspondence>(
        "SELECT body FROM correspondence WHERE of_scan=? ORDER BY place", BlobOf<record::Correspondence>,
        of_scan ? 1 : 0);
    if (!matches.ok()) return matches.error();
    (of_scan ? result.scan_to_frame : result.frame_to_frame) = std::move(matches).value();
  }
  return result;
}

Result<MatchResult> Session::Match() const {
  MatchResult result;
  Result<std::vector<record::FrameSolution>> frames = database_->Rows<record::FrameSolution>(
      "SELECT body FROM solution ORDER BY place", BlobOf<record::FrameSolution>);
  if (!frames.ok()) return frames.error();
  result.frames = std::move(frames).value();
  Result<std::vector<Nudge>> nudges =
      database_->Rows<Nudge>("SELECT scan,de,influence FROM nudge ORDER BY scan", [](const Row& row) {
        return std::optional(Nudge{PhotoId{row.Int(0)}, row.Real(1), row.Real(2)});
      });
  if (!nudges.ok()) return nudges.error();
  result.nudges = std::move(nudges).value();
  Result<std::vector<RollSpread>> rolls =
      database_->Rows<RollSpread>("SELECT roll,scans,de FROM roll_spread ORDER BY roll", [](const Row& row) {
        return std::optional(RollSpread{RollId{row.Int(0)}, static_cast<int>(row.Int(1)), row.Real(2)});
      });
  if (!rolls.ok()) return rolls.error();
  result.rolls = std::move(rolls).value();
  Result<std::vector<std::string>> notes = database_->Rows<std::string>(
      "SELECT text FROM note ORDER BY place", [](const Row& row) { return std::optional(row.Text(0)); });
  if (!notes.ok()) return notes.error();
  result.notes = std::move(notes).value();
  return result;
}

Result<std::vector<Delivery>> Session::Deliveries() const {
  return database_->Rows<Delivery>(
      "SELECT output,frame,order_name,digest,done FROM delivery ORDER BY frame,output", [](const Row& row) {
        return std::optional(
            Delivery{row.Text(0), PhotoId{row.Int(1)}, row.Text(2), row.Text(3), row.Int(4) != 0});
      });
}

Result<std::vector<Problem>> Session::Problems() const {
  return database_->Rows<Problem>("SELECT stage,what,code,why,file,todo FROM problem ORDER BY stage,id",
                                  [](const Row& row) -> std::optional<Problem> {
                                    if (!InRange(row.Int(0), Stage::kDeliver)) return std::nullopt;
                                    return Problem{
                                        static_cast<Stage>(row.Int(0)),
                                        row.Text(1),
                                        {CodeNamed(row.Text(2)), row.Text(3), row.Text(4), row.Text(5)}};
                                  });
}

Result<std::string> Session::MadeFrom(Stage stage) const {
  Result<std::vector<std::string>> rows = database_->Rows<std::string>(
      "SELECT digest FROM made WHERE stage=?", [](const Row& row) { return std::optional(row.Text(0)); },
      static_cast<int>(stage));
  if (!rows.ok()) return rows.error();
  return rows->empty() ? std::string() : rows->front();
}

Result<std::vector<Word>> Session::Words() const {
  return database_->Rows<Word>(
      "SELECT body FROM word JOIN step ON step.id=word.step WHERE standing=1 ORDER BY word.step,word.place",
      BlobOf<Word>);
}

Result<std::vector<HistoryEntry>> Session::History() const {
  return database_->Rows<HistoryEntry>(
      "SELECT id,made_us,what,standing FROM step ORDER BY id", [](const Row& row) {
        return std::optional(HistoryEntry{row.Int(0), row.Int(1), row.Text(2), row.Int(3) != 0});
      });
}

Result<Change> Session::Begin() {
  Status begun = database_->Script("BEGIN IMMEDIATE");
  if (!begun.ok()) return begun.error();
  return Change(database_.get());
}

}  // namespace samelight::session
