#include "session/schema.h"

#include <array>

#include <fmt/format.h>

namespace samelight::session {
namespace {

// Step i brings version i to version i + 1. A released step is never changed.
constexpr std::array kSteps = {
    R"sql(
CREATE TABLE roll(
  id INTEGER PRIMARY KEY, name TEXT NOT NULL, stock TEXT NOT NULL, lab TEXT NOT NULL,
  black_and_white INTEGER NOT NULL, push_ev REAL NOT NULL);
CREATE TABLE photo(
  id INTEGER PRIMARY KEY, role INTEGER NOT NULL, encoding INTEGER NOT NULL, path TEXT NOT NULL UNIQUE,
  hash TEXT NOT NULL, bytes INTEGER NOT NULL, modified_us INTEGER NOT NULL,
  width_px INTEGER NOT NULL, height_px INTEGER NOT NULL,
  roll INTEGER NOT NULL, roll_position INTEGER NOT NULL, facts BLOB NOT NULL, gone INTEGER NOT NULL DEFAULT 0);
CREATE TABLE measured(photo INTEGER PRIMARY KEY, hash TEXT NOT NULL, facts BLOB NOT NULL);
CREATE TABLE light(
  id INTEGER PRIMARY KEY, place INTEGER NOT NULL, name TEXT NOT NULL, mired REAL NOT NULL, duv REAL NOT NULL,
  frames BLOB NOT NULL, scans BLOB NOT NULL);
CREATE TABLE pair(
  place INTEGER PRIMARY KEY, scan INTEGER NOT NULL UNIQUE, frame INTEGER NOT NULL, kind INTEGER NOT NULL,
  confidence REAL NOT NULL, by_person INTEGER NOT NULL);
CREATE TABLE alternative(
  scan INTEGER NOT NULL, place INTEGER NOT NULL, frame INTEGER NOT NULL, kind INTEGER NOT NULL,
  confidence REAL NOT NULL, PRIMARY KEY(scan, place)) WITHOUT ROWID;
CREATE TABLE clock(body TEXT PRIMARY KEY, place INTEGER NOT NULL, offset_s REAL NOT NULL, confidence REAL NOT NULL);
CREATE TABLE correspondence(place INTEGER PRIMARY KEY, of_scan INTEGER NOT NULL, body BLOB NOT NULL);
CREATE TABLE solution(place INTEGER PRIMARY KEY, frame INTEGER NOT NULL UNIQUE, body BLOB NOT NULL);
CREATE TABLE nudge(scan INTEGER PRIMARY KEY, de REAL NOT NULL);
CREATE TABLE note(place INTEGER PRIMARY KEY, text TEXT NOT NULL);
CREATE TABLE delivery(
  output TEXT PRIMARY KEY, frame INTEGER NOT NULL, order_name TEXT NOT NULL, digest TEXT NOT NULL,
  done INTEGER NOT NULL);
CREATE TABLE problem(
  id INTEGER PRIMARY KEY, stage INTEGER NOT NULL, what TEXT NOT NULL, code TEXT NOT NULL, why TEXT NOT NULL,
  file TEXT NOT NULL, todo TEXT NOT NULL);
CREATE TABLE made(stage INTEGER PRIMARY KEY, digest TEXT NOT NULL);
CREATE TABLE step(id INTEGER PRIMARY KEY, made_us INTEGER NOT NULL, what TEXT NOT NULL, standing INTEGER NOT NULL);
CREATE TABLE word(
  step INTEGER NOT NULL, place INTEGER NOT NULL, body BLOB NOT NULL, PRIMARY KEY(step, place)) WITHOUT ROWID;
)sql",
    R"sql(
ALTER TABLE light ADD COLUMN narrow_band INTEGER NOT NULL DEFAULT 0;
CREATE TABLE seen(place INTEGER PRIMARY KEY, photo INTEGER NOT NULL, text TEXT NOT NULL);
)sql",
    R"sql(
ALTER TABLE nudge ADD COLUMN influence REAL NOT NULL DEFAULT 0;
CREATE TABLE roll_spread(roll INTEGER PRIMARY KEY, scans INTEGER NOT NULL, de REAL NOT NULL);
)sql",
};

}  // namespace

int NewestSchema() { return static_cast<int>(kSteps.size()); }

Result<int> CheckSchema(Database& database) {
  Result<std::int64_t> tables = database.Number(0, "SELECT count(*) FROM sqlite_schema");
  if (!tables.ok()) return tables.error();
  Result<std::int64_t> application = database.Number(0, "PRAGMA application_id");
  if (!application.ok()) return application.error();
  if (*tables == 0 && *application == 0) return 0;
  if (*application != kApplicationId)
    return Error{ErrorCode::kUnsupported, "this file is not a samelight session", "",
                 "name the session file"};
  Result<std::int64_t> version = database.Number(0, "PRAGMA user_version");
  if (!version.ok()) return version.error();
  if (*version > NewestSchema())
    return Error{
        ErrorCode::kNewerSchema,
        fmt::format("the session was written by a later samelight (format {}, this one knows up to {})",
                    *version, NewestSchema()),
        "", "use that version; the file was left as it is"};
  if (*version < 1) return database.Damaged();
  Result<std::vector<std::string>> check = database.Rows<std::string>(
      "PRAGMA quick_check(1)", [](const Row& row) { return std::optional<std::string>(row.Text(0)); });
  if (!check.ok()) return check.error();
  if (check->empty() || check->front() != "ok") return database.Damaged();
  return static_cast<int>(*version);
}

Status Migrate(Database& database, int from) {
  std::string script = "BEGIN IMMEDIATE;";
  for (int i = from; i < NewestSchema(); ++i) script += kSteps[i];
  script +=
      fmt::format("PRAGMA application_id={};PRAGMA user_version={};COMMIT;", kApplicationId, NewestSchema());
  Status status = database.Script(script);
  if (!status.ok()) static_cast<void>(database.Script("ROLLBACK"));
  return status;
}

}  // namespace samelight::session
