// The sessions of before, for the views.
#pragma once

#include <filesystem>
#include <vector>

namespace samelight::window {

// Newest first; empty for an empty `list`.
std::vector<std::filesystem::path> RecentSessions(const std::filesystem::path& list);
// A list that cannot be written is no reason to stop: nothing is told.
void RememberSession(const std::filesystem::path& list, const std::filesystem::path& session);

}  // namespace samelight::window
