// Reading and writing whole files safely.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "base/cancel.h"
#include "base/result.h"

namespace samelight {

// Reads a whole file, opened read-only. Fails with kNotFound, kPermission, kUnreadable, kTooLarge when the
// file is larger than `most_bytes`, or kCancelled (asked every 4 MiB).
Result<std::vector<std::uint8_t>> ReadFile(const std::filesystem::path& path, std::uint64_t most_bytes,
                                           const Cancel& cancel = {});
// The same, but only the first `head_bytes` (all of a shorter file).
Result<std::vector<std::uint8_t>> ReadFileHead(const std::filesystem::path& path, std::uint64_t most_bytes,
                                               std::uint64_t head_bytes, const Cancel& cancel = {});

// Writes to a temporary name in the same folder, syncs, then renames over `path` and syncs the folder: `path`
// is either the old file, absent, or whole. Fails with kNoSpace, kPermission, kNotFound (folder missing),
// kTooLarge (for the disk's kind) or kUnreadable; the temporary file is then removed.
Status WriteFileWhole(const std::filesystem::path& path, std::span<const std::uint8_t> bytes);
Status WriteFileWhole(const std::filesystem::path& path, const std::string& text);

// `folder` and what is missing above it, each synced into the folder it lies in; a name that is there already
// is left as it is. Fails with kPermission, kNoSpace, kNotFound or kUnreadable.
Status MakeFolders(const std::filesystem::path& folder);

// WriteFileWhole() in two halves, for a writer that keeps account of what it wrote: WriteAside() puts the
// whole file, synced, under the name AsideName() gives; Reveal() renames it over `path` and syncs the folder.
// A process that dies in between leaves the file aside, to be revealed by the next one that knows it was
// whole. One writer for a `path` at a time. WriteAside() removes what it began when it fails, or when
// `cancel` is requested (kCancelled; asked every 4 MiB).
std::filesystem::path AsideName(const std::filesystem::path& path);
Status WriteAside(const std::filesystem::path& path, std::span<const std::uint8_t> bytes,
                  const Cancel& cancel = {});
Status Reveal(const std::filesystem::path& path);

// Translates errno of a failed call on `path`; `doing` is "read", "write", "rename" ...
Error ErrorFromErrno(int error_number, const std::string& doing, const std::filesystem::path& path);

}  // namespace samelight
