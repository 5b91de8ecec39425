#include "job/recent.h"

#include <algorithm>
#include <cstdlib>
#include <sstream>

#include "base/file.h"

namespace samelight::job {
namespace {

namespace fs = std::filesystem;
constexpr std::size_t kMost = 12;
constexpr std::uint64_t kMostBytes = 1 << 20;

}  // namespace

fs::path RecentFile() {
  const char* state = std::getenv("XDG_STATE_HOME");
  if (state != nullptr && *state == '/') return fs::path(state) / "samelight" / "recent";
  const char* home = std::getenv("HOME");
  if (home == nullptr || *home != '/') return {};
  return fs::path(home) / ".local" / "state" / "samelight" / "recent";
}

std::vector<fs::path> ReadRecent(const fs::path& list) {
  Result<std::vector<std::uint8_t>> bytes = ReadFile(list, kMostBytes);
  if (!bytes.ok()) return {};
  std::istringstream lines(std::string(bytes->begin(), bytes->end()));
  std::vector<fs::path> recent;
  std::error_code ec;
  for (std::string line; std::getline(lines, line) && recent.size() < kMost;)
    if (!line.empty() && fs::is_regular_file(line, ec)) recent.emplace_back(line);
  return recent;
}

Status AddRecent(const fs::path& list, const fs::path& session) {
  if (list.empty()) return {};
  std::error_code ec;
  fs::path full = fs::weakly_canonical(session, ec);
  if (ec) full = fs::absolute(session, ec);
  if (full.native().find('\n') != std::string::npos) return {};  // one a line
  std::vector<fs::path> recent = ReadRecent(list);
  std::erase(recent, full);
  recent.insert(recent.begin(), full);
  if (recent.size() > kMost) recent.resize(kMost);
  std::string text;
  for (const fs::path& path : recent) text += path.string() + "\n";
  fs::create_directories(list.parent_path(), ec);
  return WriteFileWhole(list, text);
}

}  // namespace samelight::job
