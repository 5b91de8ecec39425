// The sessions that were open lately, for a person to open again.
#pragma once

#include <cstdint>
#include <filesystem>
#include <vector>

#include "base/result.h"

namespace samelight::job {

// $XDG_STATE_HOME/samelight/recent, or ~/.local/state/samelight/recent; empty without a home.
std::filesystem::path RecentFile();

// Newest first, at most twelve; files that are gone are left out. A damaged or missing list is empty.
std::vector<std::filesystem::path> ReadRecent(const std::filesystem::path& list);
// Puts `session` first.
Status AddRecent(const std::filesystem::path& list, const std::filesystem::path& session);

}  // namespace samelight::job
