#include "cli/look_commands.h"

#include <CLI/CLI.hpp>

namespace samelight::cli {
namespace {

void AddFolder(CLI::App* command, job::fs::path& folder) {
  command
      ->add_option("--looks", folder,
                   "folder that looks are kept in, instead of $XDG_DATA_HOME/samelight/looks")
      ->type_name("DIR");
}

}  // namespace

void AddLook(CLI::App& app, LookCommands& asked, const job::Work& work,
             const std::function<void(CLI::App*, bool works)>& add_common, const FinishLooks& finish,
             const FinishExport& finish_export) {
  CLI::App* look = app.add_subcommand(
      "look", "looks that last: learn them from matched sessions, list, show, export them");
  look->require_subcommand(1);

  CLI::App* command = look->add_subcommand(
      "learn", "learn a look for every stock and lab of these sessions (which must be matched)");
  command->add_option("SESSION", asked.learn.sessions, "session files")->required()->type_name("FILE");
  command->add_option("--name", asked.learn.name, "what the look is called; usually stock and lab")
      ->type_name("NAME");
  command->add_option("--stock", asked.learn.stock, "only from rolls of this stock (`samelight pair --roll`)")
      ->type_name("NAME");
  command->add_option("--lab", asked.learn.lab, "only from rolls of this lab")->type_name("NAME");
  command->add_flag(
      "--add", asked.learn.add,
      "to what the look of that name learned from other sessions; without it the look is made anew");
  AddFolder(command, asked.learn.folder);
  add_common(command, true);
  command->callback([&, finish] { finish(job::LearnLooks(asked.learn, work), false); });

  command = look->add_subcommand("list", "the looks that are kept");
  AddFolder(command, asked.wish.folder);
  add_common(command, false);
  command->callback([&, finish] { finish(job::ListLooks(asked.wish.folder), false); });

  command = look->add_subcommand("show", "every number of a look, with its spread, and what it rests on");
  command->add_option("LOOK", asked.wish.name, "name of a look, or a look file")
      ->required()
      ->type_name("NAME");
  AddFolder(command, asked.wish.folder);
  add_common(command, false);
  command->callback([&, finish] { finish(job::ShowLook(asked.wish), true); });

  command = look->add_subcommand("export", "a look as a table that other programs read");
  command->add_option("LOOK", asked.export_request.look.name, "name of a look, or a look file")
      ->required()
      ->type_name("NAME");
  command
      ->add_option(
          "FILE", asked.export_request.file,
          "what to write: .clf, Common LUT Format, scene-linear BT.2020 to sRGB; .icc, a device link, linear "
          "BT.2020 of 0 to 1 to sRGB")
      ->required()
      ->type_name("FILE");
  command
      ->add_option("--exposure", asked.export_request.exposure_ev,
                   "brighter (or darker) than a usually metered light comes out (-5 to 5 EV)")
      ->type_name("EV")
      ->check(CLI::Range(-5.0, 5.0));
  command
      ->add_option("--nodes", asked.export_request.nodes,
                   "of the table, along each axis (9 to 64, usually 49)")
      ->type_name("NUMBER")
      ->check(CLI::Range(9, 64));
  AddFolder(command, asked.export_request.look.folder);
  add_common(command, true);
  command->callback([&, finish_export] { finish_export(job::ExportLook(asked.export_request, work)); });
}

void AddLookWish(CLI::App* command, std::optional<job::LookWish>& wish) {
  const auto of = [&wish]() -> job::LookWish& { return wish ? *wish : wish.emplace(); };
  command
      ->add_option_function<std::string>(
          "--look", [of](const std::string& name) { of().name = name; },
          "a learned look to begin from (`samelight look list`), or a look file; none: what is built in")
      ->type_name("NAME");
  command
      ->add_option_function<std::string>(
          "--looks", [of](const std::string& folder) { of().folder = folder; },
          "folder that looks are kept in, instead of $XDG_DATA_HOME/samelight/looks")
      ->needs("--look")
      ->type_name("DIR");
}

}  // namespace samelight::cli
