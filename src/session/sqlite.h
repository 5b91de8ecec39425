// A thin typed coat over SQLite: statements with their values, rows with their columns, errors in plain
// words.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "session/bytes.h"

namespace samelight::session {

// One row of an answer; columns from 0. Absent values read as 0 or empty.
class Row {
 public:
  explicit Row(sqlite3_stmt* statement) : statement_(statement) {}
  std::int64_t Int(int column) const { return sqlite3_column_int64(statement_, column); }
  double Real(int column) const { return sqlite3_column_double(statement_, column); }
  std::string Text(int column) const;
  Bytes Blob(int column) const;

 private:
  sqlite3_stmt* statement_;
};

class Database {
 public:
  // `flags` as for sqlite3_open_v2. `immutable`: the file lies where nothing can be written beside it.
  static Result<std::unique_ptr<Database>> Open(const std::filesystem::path& path, int flags,
                                                bool immutable = false);
  ~Database();
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  // Runs statements without values, separated by ';'.
  Status Script(const std::string& sql);
  // Runs one statement with values; its rows, if any, are dropped.
  template <class... Values>
  Status Run(const char* sql, const Values&... values) {
    Result<Statement> statement = Prepare(sql, values...);
    if (!statement.ok()) return statement.error();
    Result<bool> row = Step(*statement);
    if (!row.ok()) return row.error();
    return {};
  }
  // All rows of one query. `make` turns a Row into std::optional<T>; an empty one means that the row is
  // damaged.
  template <class T, class Make, class... Values>
  Result<std::vector<T>> Rows(const char* sql, Make make, const Values&... values) {
    Result<Statement> statement = Prepare(sql, values...);
    if (!statement.ok()) return statement.error();
    std::vector<T> rows;
    while (true) {
      Result<bool> row = Step(*statement);
      if (!row.ok()) return row.error();
      if (!*row) return rows;
      std::optional<T> item = make(Row(statement->get()));
      if (!item) return Damaged();
      rows.push_back(std::move(*item));
    }
  }
  // The first column of the first row as a number; `otherwise` when there is no row.
  template <class... Values>
  Result<std::int64_t> Number(std::int64_t otherwise, const char* sql, const Values&... values) {
    Result<std::vector<std::int64_t>> rows = Rows<std::int64_t>(
        sql, [](const Row& row) { return std::optional<std::int64_t>(row.Int(0)); }, values...);
    if (!rows.ok()) return rows.error();
    return rows->empty() ? otherwise : rows->front();
  }
  std::int64_t last_id() const { return sqlite3_last_insert_rowid(handle_); }
  Error Damaged() const;

 private:
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
  };
  using Statement = std::unique_ptr<sqlite3_stmt, Finalize>;

  Database(sqlite3* handle, std::string file) : handle_(handle), file_(std::move(file)) {}
  template <class... Values>
  Result<Statement> Prepare(const char* sql, const Values&... values) {
    Result<Statement> statement = PrepareOnly(sql);
    if (!statement.ok()) return statement;
    int place = 0;
    (Bind(statement->get(), ++place, values), ...);
    return statement;
  }
  Result<Statement> PrepareOnly(const char* sql);
  Result<bool> Step(const Statement& statement);
  static void Bind(sqlite3_stmt* s, int place, std::int64_t value) { sqlite3_bind_int64(s, place, value); }
  static void Bind(sqlite3_stmt* s, int place, int value) { sqlite3_bind_int(s, place, value); }
  static void Bind(sqlite3_stmt* s, int place, double value) { sqlite3_bind_double(s, place, value); }
  static void Bind(sqlite3_stmt* s, int place, const std::string& text);
  static void Bind(sqlite3_stmt* s, int place, const Bytes& bytes);
  Error ErrorNow(int code) const;

  sqlite3* handle_;
  std::string file_;
};

}  // namespace samelight::session
