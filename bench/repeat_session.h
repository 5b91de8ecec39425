// A large session made of a small one (invented data: the rows are real, their number is not).
#pragma once

#include <filesystem>

namespace samelight::bench {

// Writes to `to` the session `from` with its pictures repeated until it has at least `frames` frames; its
// first light runs through all copies. Thumbnails are shared. False when it cannot be read or written.
bool RepeatSession(const std::filesystem::path& from, const std::filesystem::path& to, int frames);

}  // namespace samelight::bench
