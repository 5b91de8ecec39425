#include "job/roll_series.h"

#include <algorithm>
#include <cctype>
#include <map>

namespace samelight::job {
namespace {

// What stands before the last run of digits, without separators at its end.
std::string BeforeNumber(const std::string& stem) {
  const auto digit = [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; };
  std::size_t end = stem.size();
  while (end > 0 && !digit(stem[end - 1])) --end;
  while (end > 0 && digit(stem[end - 1])) --end;
  while (end > 0 && std::string(" -_.#").find(stem[end - 1]) != std::string::npos) --end;
  return stem.substr(0, end);
}

}  // namespace

std::vector<std::string> RollSeries(const std::vector<std::string>& stems) {
  std::vector<std::string> series;
  std::map<std::string, int> count;
  for (const std::string& stem : stems) ++count[series.emplace_back(BeforeNumber(stem))];
  const bool rolls = count.size() > 1 &&
                     std::all_of(count.begin(), count.end(), [](const auto& c) { return c.second >= 2; });
  if (!rolls) series.assign(stems.size(), "");
  return series;
}

}  // namespace samelight::job
