// What a person said, step by step.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace samelight::job {

struct HistoryAnswer {
  struct Step {
    std::int64_t number = 0;
    std::int64_t made_us = 0;  // since 1970-01-01, UTC
    std::string what;          // in plain words
    bool standing = true;      // false: taken back
  };
  std::vector<Step> steps;                           // oldest first
  std::optional<std::int64_t> undo_next, redo_next;  // the steps that Undo and Redo (job.h) would turn
};
// Only reads. kNotFound when there is no session there.
Result<HistoryAnswer> History(const std::filesystem::path& session);

}  // namespace samelight::job
