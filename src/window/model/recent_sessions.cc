#include "window/model/recent_sessions.h"

#include "job/recent.h"

namespace samelight::window {

std::vector<std::filesystem::path> RecentSessions(const std::filesystem::path& list) {
  return list.empty() ? std::vector<std::filesystem::path>() : job::ReadRecent(list);
}

void RememberSession(const std::filesystem::path& list, const std::filesystem::path& session) {
  if (!list.empty()) static_cast<void>(job::AddRecent(list, session));
}

}  // namespace samelight::window
