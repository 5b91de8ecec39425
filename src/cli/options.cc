#include "cli/options.h"

#include <functional>

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "base/setting.h"
#include "job/order_fields.h"

namespace samelight::cli {
namespace {

// A flag made from the setting's description.
CLI::Option* AddSetting(CLI::App* command, const std::string& name, std::function<void(double)> set) {
  const Setting* s = FindSetting(name);
  const std::string unit = s->unit == "-" ? "" : " " + s->unit;
  return command
      ->add_option_function<double>(
          "--" + name,
          [name, set = std::move(set)](double value) {
            const Status fits = CheckSetting(name, value);
            if (!fits.ok()) throw CLI::ValidationError("--" + name, fits.error().what);
            set(value);
          },
          fmt::format("{} ({} to {}{}, usually {})", s->help, s->least, s->most, unit, s->usual))
      ->type_name(s->unit == "-" ? "NUMBER" : s->unit);
}

}  // namespace

void AddCommon(CLI::App* command, Common& common, bool works) {
  command->add_flag("--json", common.json, "answer in JSON on the standard output");
  if (works) AddSetting(command, "jobs", [&common](double value) { common.jobs = value; });
}

void AddSession(CLI::App* command, job::fs::path& session) {
  command->add_option("SESSION", session, "the session file")->required()->type_name("FILE");
}

void AddInput(CLI::App* command, std::vector<job::fs::path>& film, std::vector<job::fs::path>& digital) {
  command->add_option("--film", film, "folders or files of film scans; one roll per folder")
      ->type_name("DIR");
  command->add_option("--digital", digital, "folders or files of digital frames")->type_name("DIR");
}

void AddMatch(CLI::App* command, std::optional<double>& follow, std::map<std::string, double>& settings) {
  AddSetting(command, "follow", [&follow](double value) { follow = value; });
  for (const char* name : {"follow-scan", "skin-weight", "tolerance"})
    AddSetting(command, name, [&settings, name](double value) { settings[name] = value; });
}

void AddOrderFields(CLI::App* command, job::OrderFieldWords& fields) {
  for (const job::OrderField& field : job::OrderFields())
    command
        ->add_option_function<std::string>(
            "--" + field.name,
            [name = field.name, &fields](const std::string& word) {
              record::Order order;
              const Status fits = job::SetField(order, name, word);
              if (!fits.ok()) throw CLI::ValidationError("--" + name, fits.error().what);
              fields.emplace_back(name, word);
            },
            field.help)
        ->type_name(field.kind);
}

void AddDeliver(CLI::App* command, job::DeliverOptions& options) {
  AddOrderFields(command, options.fields);
  command->add_flag(
      "--again", options.again,
      "make everything anew, also what is delivered already, and write over files of the same name");
  AddSetting(command, "memory",
             [&options](double value) { options.memory_mib = static_cast<std::uint64_t>(value); });
}

Result<Facts> FactsOf(const std::vector<std::string>& words, const std::string& option) {
  Facts facts;
  for (const std::string& word : words) {
    if (word.find('=') == std::string::npos)
      facts.push_back({word, {}});
    else if (facts.empty())
      return Error{ErrorCode::kInvalidArgument, fmt::format("{} starts with a name, then key=value", option),
                   "", fmt::format("put the name in front: {} NAME key=value", option)};
    else
      facts.back().second.push_back(word);
  }
  for (const auto& [name, of] : facts)
    if (of.empty())
      return Error{ErrorCode::kInvalidArgument, fmt::format("{} {}: nothing is said of it", option, name), "",
                   "add key=value, such as name=ceremony"};
  return facts;
}

}  // namespace samelight::cli
