#include <map>

#include "report/report.h"

namespace samelight::report {
namespace {

// The last `parts` parts of a path.
std::string Tail(const std::string& path, int parts) {
  std::size_t from = path.size(), end = path.size();  // of the part in hand
  for (int i = 0; i < parts; ++i) {
    const std::size_t slash = end == 0 ? std::string::npos : path.rfind('/', end - 1);
    if (slash == std::string::npos) return path;
    from = slash + 1;
    end = slash;
  }
  return path.substr(from);
}

}  // namespace

std::vector<std::string> ShortNames(const std::vector<std::string>& paths) {
  std::vector<std::string> names(paths.size());
  std::vector<int> parts(paths.size(), 1);
  while (true) {
    std::map<std::string, std::vector<std::size_t>> same;
    for (std::size_t i = 0; i < paths.size(); ++i) same[names[i] = Tail(paths[i], parts[i])].push_back(i);
    bool longer = false;
    for (const auto& [name, who] : same) {
      if (who.size() == 1) continue;
      for (const std::size_t i : who)
        if (names[i] != paths[i]) {
          ++parts[i];
          longer = true;
        }
    }
    if (!longer) return names;
  }
}

}  // namespace samelight::report
