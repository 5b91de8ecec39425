// Session files to begin fuzzing from.
#pragma once

#include <filesystem>
#include <vector>

#include "tests/fuzz/targets.h"

namespace samelight::fuzz {

// A session with something in every table, and the same with values that no session of ours holds: its k-th
// columns of all tables at once, each in turn below nothing, huge, a text, no bytes and too many bytes. Small
// pages, so that a change meets something. `folder` is written into; empty when that fails.
std::vector<Bytes> SessionSeeds(const std::filesystem::path& folder);

}  // namespace samelight::fuzz
