// Reads the tables of tests/published for the tests.
#pragma once

#include <gtest/gtest.h>

#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "base/matrix.h"

namespace samelight::color {

// One line of a table: cells by column name.
class Row {
 public:
  explicit Row(std::map<std::string, std::string> cells) : cells_(std::move(cells)) {}
  const std::string& Text(const std::string& column) const { return cells_.at(column); }
  bool Has(const std::string& column) const { return !cells_.at(column).empty(); }
  // Throws, and so fails the test, on a missing column or a cell that is not a number.
  double operator[](const std::string& column) const { return std::stod(cells_.at(column)); }
  Vec3 Three(const std::string& a, const std::string& b, const std::string& c) const {
    return {(*this)[a], (*this)[b], (*this)[c]};
  }

 private:
  std::map<std::string, std::string> cells_;
};

inline std::vector<Row> ReadTable(const std::string& path) {
  std::ifstream file(path);
  if (!file) throw std::runtime_error("no such table: " + path);
  const auto split = [](const std::string& line) {
    std::vector<std::string> cells(1);
    for (const char c : line) {
      if (c == ',')
        cells.emplace_back();
      else if (c != '\r')
        cells.back() += c;
    }
    return cells;
  };
  std::string line;
  std::getline(file, line);
  const auto names = split(line);
  std::vector<Row> rows;
  while (std::getline(file, line)) {
    if (line.empty()) continue;
    const auto cells = split(line);
    if (cells.size() != names.size()) throw std::runtime_error(path + ": uneven line: " + line);
    std::map<std::string, std::string> row;
    for (std::size_t i = 0; i < names.size(); ++i) row[names[i]] = cells[i];
    rows.emplace_back(std::move(row));
  }
  return rows;
}

// A table of tests/published that must have exactly `lines` lines, so that none is lost unnoticed.
inline std::vector<Row> Published(const std::string& name, std::size_t lines) {
  auto rows = ReadTable(SAMELIGHT_SOURCE_DIR "/tests/published/" + name);
  EXPECT_EQ(rows.size(), lines) << name;
  return rows;
}

inline void ExpectNear(const Vec3& got, const Vec3& want, double within, const std::string& what) {
  for (int c = 0; c < 3; ++c) EXPECT_NEAR(got[c], want[c], within) << what << ", component " << c;
}

inline void ExpectNear(const Mat3& got, const Mat3& want, double within, const std::string& what) {
  for (int r = 0; r < 3; ++r) ExpectNear(got[r], want[r], within, what + ", row " + std::to_string(r));
}

}  // namespace samelight::color
