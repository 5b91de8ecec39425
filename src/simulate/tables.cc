#include "simulate/tables.h"

#include <cstdlib>
#include <map>
#include <mutex>
#include <sstream>

namespace samelight::simulate {
namespace {

std::vector<std::vector<std::string>> Cells(std::string_view text) {
  std::vector<std::vector<std::string>> rows;
  std::istringstream lines{std::string(text)};
  for (std::string line; std::getline(lines, line);) {
    if (line.empty()) continue;
    std::vector<std::string> row;
    std::string cell;
    for (char c : line) {
      if (c == ',') {
        row.push_back(cell);
        cell.clear();
      } else if (c != '\r') {
        cell += c;
      }
    }
    row.push_back(cell);
    rows.push_back(std::move(row));
  }
  return rows;
}

std::string_view Text(std::string_view name) {
  for (const DataFile& file : DataFiles())
    if (file.name == name) return file.text;
  std::abort();
}

std::vector<NamedSpectrum> Parse(std::string_view name) {
  const auto rows = Cells(Text(name));
  const auto outside = name.starts_with("camera") ? color::Outside::kZero : color::Outside::kHold;
  std::vector<double> wavelengths, values;
  for (std::size_t r = 1; r < rows.size(); ++r) wavelengths.push_back(std::atof(rows[r][0].c_str()));
  std::vector<NamedSpectrum> table;
  for (std::size_t column = 1; column < rows[0].size(); ++column) {
    values.clear();
    for (std::size_t r = 1; r < rows.size(); ++r) values.push_back(std::atof(rows[r][column].c_str()));
    auto spectrum = color::ResampleSpectrum(wavelengths, values, outside);
    if (!spectrum.ok()) std::abort();
    table.push_back({rows[0][column], "", *spectrum});
  }
  if (name == "objects") {
    const auto groups = Cells(Text("object_groups"));
    for (std::size_t i = 0; i < table.size(); ++i) table[i].group = groups[i + 1][1] + "+" + groups[i + 1][5];
  }
  return table;
}

}  // namespace

const std::vector<NamedSpectrum>& Table(std::string_view name) {
  static std::mutex mutex;
  static std::map<std::string, std::vector<NamedSpectrum>, std::less<>> tables;
  const std::lock_guard lock(mutex);
  auto found = tables.find(name);
  if (found == tables.end()) found = tables.emplace(std::string(name), Parse(name)).first;
  return found->second;
}

const color::Spectrum& Column(std::string_view table, std::string_view column) {
  for (const NamedSpectrum& entry : Table(table))
    if (entry.name == column) return entry.values;
  std::abort();
}

}  // namespace samelight::simulate
