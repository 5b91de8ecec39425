// Reading and writing whole files safely.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"

namespace samelight {

// Reads a whole file, opened read-only. Fails with kNotFound, kPermission, kUnreadable, or kTooLarge when the file is
// larger than `most_bytes`.
Result<std::vector<std::uint8_t>> ReadFile(const std::filesystem::path& path, std::uint64_t most_bytes);
// The same, but only the first `head_bytes` (all of a shorter file).
Result<std::vector<std::uint8_t>> ReadFileHead(const std::filesystem::path& path, std::uint64_t most_bytes,
                                               std::uint64_t head_bytes);

// Writes to a temporary name in the same folder, syncs, then renames over `path` and syncs the folder: `path` is
// either the old file, absent, or whole. Fails with kNoSpace, kPermission, kNotFound (folder missing) or kUnreadable;
// the temporary file is then removed.
Status WriteFileWhole(const std::filesystem::path& path, std::span<const std::uint8_t> bytes);
Status WriteFileWhole(const std::filesystem::path& path, const std::string& text);

// Translates errno of a failed call on `path`; `doing` is "read", "write", "rename" ...
Error ErrorFromErrno(int error_number, const std::string& doing, const std::filesystem::path& path);

}  // namespace samelight
