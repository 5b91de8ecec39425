#include "session/sqlite.h"

#include <fmt/format.h>

namespace samelight::session {
namespace {

// No single value of a session is larger; a damaged length field cannot ask for more.
constexpr int kMostValueBytes = 256 << 20;

// A path as a URI (RFC 3986): everything but unreserved characters and '/' is escaped.
std::string UriOf(const std::string& path) {
  std::string uri = "file:";
  for (const unsigned char c : path) {
    if (std::isalnum(c) || c == '/' || c == '-' || c == '.' || c == '_' || c == '~')
      uri += static_cast<char>(c);
    else
      uri += fmt::format("%{:02X}", c);
  }
  return uri;
}

}  // namespace

std::string Row::Text(int column) const {
  const auto* text = reinterpret_cast<const char*>(sqlite3_column_text(statement_, column));
  return text == nullptr ? std::string() : std::string(text, sqlite3_column_bytes(statement_, column));
}

Bytes Row::Blob(int column) const {
  const auto* data = static_cast<const std::uint8_t*>(sqlite3_column_blob(statement_, column));
  return data == nullptr ? Bytes() : Bytes(data, data + sqlite3_column_bytes(statement_, column));
}

Result<std::unique_ptr<Database>> Database::Open(const std::filesystem::path& path, int flags,
                                                 bool immutable) {
  sqlite3* handle = nullptr;
  std::string name = UriOf(path.string());
  if (immutable) name += "?immutable=1";
  const int code =
      sqlite3_open_v2(name.c_str(), &handle, flags | SQLITE_OPEN_URI | SQLITE_OPEN_EXRESCODE, nullptr);
  std::unique_ptr<Database> database(new Database(handle, path.string()));
  if (code != SQLITE_OK) return database->ErrorNow(code);
  sqlite3_busy_timeout(handle, 20000);
  sqlite3_limit(handle, SQLITE_LIMIT_LENGTH, kMostValueBytes);
  // A session may come from anywhere: nothing in its schema is trusted to run.
  sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
  return database;
}

Database::~Database() { sqlite3_close_v2(handle_); }

Status Database::Script(const std::string& sql) {
  const int code = sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) return ErrorNow(code);
  return {};
}

Result<Database::Statement> Database::PrepareOnly(const char* sql) {
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v2(handle_, sql, -1, &statement, nullptr);
  if (code != SQLITE_OK) return ErrorNow(code);
  return Statement(statement);
}

Result<bool> Database::Step(const Statement& statement) {
  const int code = sqlite3_step(statement.get());
  if (code == SQLITE_ROW) return true;
  if (code == SQLITE_DONE) return false;
  return ErrorNow(code);
}

void Database::Bind(sqlite3_stmt* s, int place, const std::string& text) {
  sqlite3_bind_text64(s, place, text.data(), text.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
}

void Database::Bind(sqlite3_stmt* s, int place, const Bytes& bytes) {
  if (bytes.empty())
    sqlite3_bind_zeroblob(s, place, 0);
  else
    sqlite3_bind_blob64(s, place, bytes.data(), bytes.size(), SQLITE_TRANSIENT);
}

Error Database::Damaged() const {
  return {ErrorCode::kDamaged, "the session file is damaged", file_,
          "go back to a copy of it, or make the session anew; the photographs are not touched"};
}

Error Database::ErrorNow(int code) const {
  switch (code & 0xff) {
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return Damaged();
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {ErrorCode::kBusy, "another program is working on this session", file_,
              "wait for it to end, or stop it"};
    case SQLITE_FULL:
      return {ErrorCode::kNoSpace, "the disk is full", file_,
              "free some space, then run the same command again"};
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
      return {ErrorCode::kPermission, "the session file may not be written", file_,
              "check the rights of the file and its folder"};
    case SQLITE_CANTOPEN:
      return {ErrorCode::kNotFound, "the session file could not be opened", file_,
              "check the name and the rights of its folder"};
    case SQLITE_IOERR:
      return {ErrorCode::kUnreadable, "the session file could not be read or written", file_,
              "check the disk, then try again"};
    case SQLITE_TOOBIG:
      return Damaged();
    default:
      // A missing table or column is damage too: every schema version is known here.
      return {ErrorCode::kDamaged,
              fmt::format("the session file could not be used ({})",
                          handle_ != nullptr ? sqlite3_errmsg(handle_) : sqlite3_errstr(code)),
              file_, "go back to a copy of it, or make the session anew; the photographs are not touched"};
  }
}

}  // namespace samelight::session
