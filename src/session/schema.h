// The tables of the session file, version by version.
#pragma once

#include "base/result.h"
#include "session/sqlite.h"

namespace samelight::session {

// "SmLt": PRAGMA application_id of every session file.
inline constexpr int kApplicationId = 0x536D4C74;
// PRAGMA user_version of the newest schema.
int NewestSchema();

// The schema version of an open database: 0 for one without any table. kUnsupported when it is not a session,
// kNewerSchema when it was written by a later version, kDamaged when SQLite finds it damaged.
Result<int> CheckSchema(Database& database);

// Brings an empty or older database to the newest schema, in one transaction.
Status Migrate(Database& database, int from);

}  // namespace samelight::session
