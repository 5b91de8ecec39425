#include <chrono>
#include <utility>

#include "session/pack.h"
#include "session/session.h"
#include "session/sqlite.h"

namespace samelight::session {

Change::Change(Change&& other) noexcept : database_(std::exchange(other.database_, nullptr)) {}

Change::~Change() {
  if (database_ != nullptr) static_cast<void>(database_->Script("ROLLBACK"));
}

Status Change::Commit() {
  Status committed = database_->Script("COMMIT");
  if (committed.ok()) database_ = nullptr;
  return committed;
}

Status Change::Put(record::Photo& photo) {
  const std::optional<std::int64_t> id = photo.id.valid() ? std::optional(photo.id.value) : std::nullopt;
  Status put = database_->Run(
      "INSERT INTO "
      "photo(id,role,encoding,path,hash,bytes,modified_us,width_px,height_px,roll,roll_position,facts) "
      "VALUES(nullif(?,-1),?,?,?,?,?,?,?,?,?,?,?) ON CONFLICT(id) DO UPDATE SET role=excluded.role,"
      "encoding=excluded.encoding,path=excluded.path,hash=excluded.hash,bytes=excluded.bytes,"
      "modified_us=excluded.modified_us,width_px=excluded.width_px,height_px=excluded.height_px,roll="
      "excluded.roll,"
      "roll_position=excluded.roll_position,facts=excluded.facts",
      id.value_or(-1), static_cast<int>(photo.role), static_cast<int>(photo.encoding), photo.path, photo.hash,
      static_cast<std::int64_t>(photo.bytes), photo.modified_us, photo.width_px, photo.height_px,
      photo.roll.value, photo.roll_position, PackFacts(photo));
  if (put.ok() && !id) photo.id.value = database_->last_id();
  return put;
}

Status Change::SetGone(PhotoId photo, bool gone) {
  return database_->Run("UPDATE photo SET gone=? WHERE id=?", gone ? 1 : 0, photo.value);
}

Status Change::Put(record::Roll& roll) {
  const bool is_new = !roll.id.valid();
  Status put = database_->Run(
      "INSERT INTO roll(id,name,stock,lab,black_and_white,push_ev) VALUES(nullif(?,-1),?,?,?,?,?) "
      "ON CONFLICT(id) DO UPDATE SET name=excluded.name,stock=excluded.stock,lab=excluded.lab,"
      "black_and_white=excluded.black_and_white,push_ev=excluded.push_ev",
      roll.id.value, roll.name, roll.stock, roll.lab, roll.black_and_white ? 1 : 0, roll.push_ev);
  if (put.ok() && is_new) roll.id.value = database_->last_id();
  return put;
}

Status Change::PutMeasured(PhotoId photo, const MeasuredEntry& entry) {
  return database_->Run("REPLACE INTO measured(photo,hash,facts) VALUES(?,?,?)", photo.value, entry.hash,
                        Pack(entry.measured));
}

Status Change::ReplacePairs(const PairResult& result) {
  Status status = database_->Script(
      "DELETE FROM light; DELETE FROM pair; DELETE FROM alternative; DELETE FROM clock; DELETE FROM "
      "correspondence; DELETE FROM seen");
  for (std::size_t i = 0; status.ok() && i < result.lights.size(); ++i) {
    const record::Light& light = result.lights[i];
    status = database_->Run(
        "INSERT INTO light(id,place,name,mired,duv,frames,scans,narrow_band) VALUES(?,?,?,?,?,?,?,?)",
        light.id.value, static_cast<std::int64_t>(i), light.name, light.mired, light.duv, Pack(light.frames),
        Pack(light.scans), light.narrow_band ? 1 : 0);
  }
  for (std::size_t i = 0; status.ok() && i < result.pairs.size(); ++i) {
    const record::Pair& pair = result.pairs[i];
    status =
        database_->Run("INSERT INTO pair(place,scan,frame,kind,confidence,by_person) VALUES(?,?,?,?,?,?)",
                       static_cast<std::int64_t>(i), pair.scan.value, pair.frame.value,
                       static_cast<int>(pair.kind), pair.confidence, pair.by_person ? 1 : 0);
    for (std::size_t j = 0; status.ok() && j < pair.alternatives.size(); ++j) {
      const record::PairCandidate& other = pair.alternatives[j];
      status = database_->Run("INSERT INTO alternative(scan,place,frame,kind,confidence) VALUES(?,?,?,?,?)",
                              pair.scan.value, static_cast<std::int64_t>(j), other.frame.value,
                              static_cast<int>(other.kind), other.confidence);
    }
  }
  for (std::size_t i = 0; status.ok() && i < result.clocks.size(); ++i) {
    const Clock& clock = result.clocks[i];
    status = database_->Run("INSERT INTO clock(body,place,offset_s,confidence) VALUES(?,?,?,?)", clock.body,
                            static_cast<std::int64_t>(i), clock.offset_s, clock.confidence);
  }
  for (const record::Note& note : result.notes) {
    if (!status.ok()) break;
    status = database_->Run("INSERT INTO seen(photo,text) VALUES(?,?)", note.photo.value, note.text);
  }
  for (const bool of_scan : {true, false}) {
    for (const record::Correspondence& matches : of_scan ? result.scan_to_frame : result.frame_to_frame) {
      if (!status.ok()) break;
      status = database_->Run("INSERT INTO correspondence(of_scan,body) VALUES(?,?)", of_scan ? 1 : 0,
                              Pack(matches));
    }
  }
  return status;
}

Status Change::ReplaceMatch(const MatchResult& result) {
  Status status =
      database_->Script("DELETE FROM solution; DELETE FROM nudge; DELETE FROM roll_spread; DELETE FROM note");
  for (const record::FrameSolution& solution : result.frames) {
    if (!status.ok()) break;
    status =
        database_->Run("INSERT INTO solution(frame,body) VALUES(?,?)", solution.frame.value, Pack(solution));
  }
  for (const Nudge& nudge : result.nudges) {
    if (!status.ok()) break;
    status = database_->Run("REPLACE INTO nudge(scan,de,influence) VALUES(?,?,?)", nudge.scan.value, nudge.de,
                            nudge.influence);
  }
  for (const RollSpread& roll : result.rolls) {
    if (!status.ok()) break;
    status = database_->Run("REPLACE INTO roll_spread(roll,scans,de) VALUES(?,?,?)", roll.roll.value,
                            roll.scans, roll.de);
  }
  for (const std::string& note : result.notes) {
    if (!status.ok()) break;
    status = database_->Run("INSERT INTO note(text) VALUES(?)", note);
  }
  return status;
}

Status Change::Put(const Delivery& delivery) {
  return database_->Run("REPLACE INTO delivery(output,frame,order_name,digest,done) VALUES(?,?,?,?,?)",
                        delivery.output, delivery.frame.value, delivery.order, delivery.digest,
                        delivery.done ? 1 : 0);
}

Status Change::ReplaceProblems(Stage stage, const std::vector<Problem>& problems) {
  Status status = database_->Run("DELETE FROM problem WHERE stage=?", static_cast<int>(stage));
  for (const Problem& problem : problems) {
    if (!status.ok()) break;
    status =
        database_->Run("INSERT INTO problem(stage,what,code,why,file,todo) VALUES(?,?,?,?,?,?)",
                       static_cast<int>(stage), problem.what, std::string(ErrorCodeName(problem.error.code)),
                       problem.error.what, problem.error.file, problem.error.todo);
  }
  return status;
}

Status Change::SetMadeFrom(Stage stage, const std::string& digest) {
  return database_->Run("REPLACE INTO made(stage,digest) VALUES(?,?)", static_cast<int>(stage), digest);
}

Status Change::Say(const std::vector<Word>& words, const std::string& what) {
  Status status = database_->Script(
      "DELETE FROM word WHERE step IN (SELECT id FROM step WHERE standing=0); DELETE FROM step WHERE "
      "standing=0");
  if (!status.ok()) return status;
  const std::int64_t now_us = std::chrono::duration_cast<std::chrono::microseconds>(
                                  std::chrono::system_clock::now().time_since_epoch())
                                  .count();
  status = database_->Run("INSERT INTO step(made_us,what,standing) VALUES(?,?,1)", now_us, what);
  const std::int64_t step = database_->last_id();
  for (std::size_t i = 0; status.ok() && i < words.size(); ++i)
    status = database_->Run("INSERT INTO word(step,place,body) VALUES(?,?,?)", step,
                            static_cast<std::int64_t>(i), Pack(words[i]));
  return status;
}

namespace {

// Turns one step over and returns its name.
Result<std::optional<std::string>> Turn(Database& database, const char* find, int standing) {
  struct Step {
    std::int64_t id;
    std::string what;
  };
  Result<std::vector<Step>> steps = database.Rows<Step>(find, [](const Row& row) {
    return std::optional(Step{row.Int(0), row.Text(1)});
  });
  if (!steps.ok()) return steps.error();
  if (steps->empty()) return std::optional<std::string>();
  Status turned = database.Run("UPDATE step SET standing=? WHERE id=?", standing, steps->front().id);
  if (!turned.ok()) return turned.error();
  return std::optional(steps->front().what);
}

}  // namespace

Result<std::optional<std::string>> Change::Undo() {
  return Turn(*database_, "SELECT id,what FROM step WHERE standing=1 ORDER BY id DESC LIMIT 1", 0);
}

Result<std::optional<std::string>> Change::Redo() {
  return Turn(*database_, "SELECT id,what FROM step WHERE standing=0 ORDER BY id LIMIT 1", 1);
}

}  // namespace samelight::session
