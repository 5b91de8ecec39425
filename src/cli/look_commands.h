// `samelight look learn|list|show|export`.
#pragma once

#include <functional>

#include "job/job.h"

namespace CLI {
class App;
}

namespace samelight::cli {

// What the commands of `look` are asked.
struct LookCommands {
  job::LookLearnRequest learn;
  job::LookExportRequest export_request;
  job::LookWish wish;
};

// What becomes of an answer: `whole` as in Print().
using FinishLooks = std::function<void(const Result<job::LookAnswer>&, bool whole)>;
using FinishExport = std::function<void(const Result<job::LookExportAnswer>&)>;

// Adds the command and what is below it; `add_common` gives each its flags. `asked` lives as long as `app`.
void AddLook(CLI::App& app, LookCommands& asked, const job::Work& work,
             const std::function<void(CLI::App*, bool works)>& add_common, const FinishLooks& finish,
             const FinishExport& finish_export);

// --look and --looks, of commands that solve.
void AddLookWish(CLI::App* command, std::optional<job::LookWish>& wish);

}  // namespace samelight::cli
