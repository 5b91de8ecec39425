// Flags that several commands share.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cli/print.h"
#include "job/job.h"

namespace CLI {
class App;
}

namespace samelight::cli {

// What every command has.
struct Common {
  bool json = false;
  double jobs = 0;
  As as() const { return json ? As::kJson : As::kText; }
};

// What is asked into must live as long as `command`. `works`: it has --jobs too.
void AddCommon(CLI::App* command, Common& common, bool works);
void AddSession(CLI::App* command, job::fs::path& session);
void AddInput(CLI::App* command, std::vector<job::fs::path>& film, std::vector<job::fs::path>& digital);
void AddMatch(CLI::App* command, std::optional<double>& follow, std::map<std::string, double>& settings);
// A flag for every field of an order.
void AddOrderFields(CLI::App* command, job::OrderFieldWords& fields);
void AddDeliver(CLI::App* command, job::DeliverOptions& options);

// "NAME key=value... NAME key=value..." in parts. kInvalidArgument, which names `option`.
using Facts = std::vector<std::pair<std::string, std::vector<std::string>>>;
Result<Facts> FactsOf(const std::vector<std::string>& words, const std::string& option);

}  // namespace samelight::cli
