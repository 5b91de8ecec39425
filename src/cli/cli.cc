#include "cli/cli.h"

#include <unistd.h>

#include <cstdio>
#include <exception>
#include <functional>

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "base/setting.h"
#include "cli/look_commands.h"
#include "cli/print.h"
#include "cli/progress_lines.h"
#include "cli/start_window.h"
#include "cli/stop.h"
#include "job/job.h"
#include "job/order_fields.h"

namespace samelight::cli {
namespace {

constexpr int kAllWell = 0, kSomeFailed = 1, kWrongUse = 2, kNothingDone = 3, kStopped = 130;

int StatusOf(const Error& error) {
  switch (error.code) {
    case ErrorCode::kCancelled:
      return kStopped;
    case ErrorCode::kInvalidArgument:
      return kWrongUse;
    default:
      return kNothingDone;
  }
}

// What every command has.
struct Common {
  bool json = false;
  double jobs = 0;
  As as() const { return json ? As::kJson : As::kText; }
};

// A flag made from the setting's description; nullptr target: only checked.
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

// A flag for every field of an order.
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

// "NAME key=value... NAME key=value..." in parts.
using Facts = std::vector<std::pair<std::string, std::vector<std::string>>>;
Result<Facts> FactsOf(const std::vector<std::string>& words, const std::string& option) {
  Facts facts;
  for (const std::string& word : words) {
    if (word.find('=') == std::string::npos)
      facts.push_back({word, {}});
    else if (facts.empty())
      return Error{ErrorCode::kInvalidArgument, fmt::format("{} starts with a name, then key=value", option),
                   "", ""};
    else
      facts.back().second.push_back(word);
  }
  for (const auto& [name, of] : facts)
    if (of.empty())
      return Error{ErrorCode::kInvalidArgument, fmt::format("{} {}: nothing is said of it", option, name), "",
                   "add key=value, such as name=ceremony"};
  return facts;
}

// Prints an answer and tells the exit status.
template <class T>
int Finish(const Result<T>& answer, const Common& common) {
  if (!answer.ok()) {
    Print(answer.error(), common.as());
    return StatusOf(answer.error());
  }
  Print(*answer, common.as());
  if constexpr (requires { answer->problems; }) {
    if (!answer->problems.empty()) return kSomeFailed;
  }
  return kAllWell;
}

int FinishDelivery(int status, const job::DeliverAnswer& deliver) {
  return status == kSomeFailed && deliver.written + deliver.kept == 0 ? kNothingDone : status;
}

int Run(int argc, char** argv) {
  Common common;
  job::NewRequest new_request;
  job::PairRequest pair_request;
  job::MatchRequest match_request;
  job::DeliverRequest deliver_request;
  job::OrderRequest order_request;
  job::CropRequest crop_request;
  job::SettleRequest settle_request;
  job::StateRequest state_request;
  job::RunRequest run_request;
  job::DemoRequest demo_request;
  LookCommands looks;
  job::fs::path asked, scored, window_session;
  std::string picture;
  std::vector<std::string> roll_words, light_words;
  int status = kAllWell;

  CLI::App app("Brings digital frames to the look of the film scans that were taken beside them.",
               "samelight");
  app.set_version_flag("--version", job::Version(), "print the version");
  app.require_subcommand(1);
  app.footer(
      "Exit status: 0 all well, 1 some files failed (they are named), 2 wrong use, 3 nothing could be done, "
      "130 stopped.\nOriginals are never written to.");

  ProgressLines progress(::isatty(STDERR_FILENO) == 1);
  const job::Work work{progress, StopOnSignal()};

  CLI::App* command = app.add_subcommand("new", "take stock of a session: find scans and frames");
  AddSession(command, new_request.session);
  AddInput(command, new_request.film, new_request.digital);
  AddCommon(command, common, true);
  command->callback([&] { status = Finish(job::New(new_request, work), common); });

  command = app.add_subcommand("pair", "find which scan and which frame belong together, or say it");
  AddSession(command, pair_request.session);
  command->add_option("--join", pair_request.join, "these two show the same moment")
      ->type_name("SCAN FRAME")
      ->allow_extra_args(false);
  command->add_option("--refuse", pair_request.refuse, "these two do not belong together")
      ->type_name("SCAN FRAME")
      ->allow_extra_args(false);
  command->add_option("--bar", pair_request.bar, "keep the pair, keep the scan out of the look")
      ->type_name("SCAN")
      ->allow_extra_args(false);
  command
      ->add_option("--unbar", pair_request.unbar,
                   "let a barred scan into the look again, or one that coloured lamps kept out")
      ->type_name("SCAN")
      ->allow_extra_args(false);
  command
      ->add_option("--roll", roll_words,
                   "what is known of a roll: name=, stock=, lab=, format=, rating=ISO, push=EV (-3 to 3), "
                   "scan-day=DATE, black-and-white=yes|no, split=SCAN (another roll begins there), "
                   "join=OTHER ROLL")
      ->type_name("ROLL key=value");
  command
      ->add_option(
          "--light", light_words,
          "what is known of a light: name=, join=OTHER LIGHT, split=FRAME (a new light begins there)")
      ->type_name("LIGHT key=value");
  command->add_option("--clock", pair_request.clock, "seconds to be added to the clock of a body")
      ->type_name("BODY SECONDS")
      ->allow_extra_args(false);
  command->add_flag("--again", pair_request.again, "even when nothing has changed");
  AddCommon(command, common, true);
  command->callback([&] {
    for (const bool roll : {true, false}) {
      Result<Facts> facts = FactsOf(roll ? roll_words : light_words, roll ? "--roll" : "--light");
      if (!facts.ok()) {
        Print(facts.error(), common.as());
        status = kWrongUse;
        return;
      }
      (roll ? pair_request.roll : pair_request.light) = std::move(facts).value();
    }
    status = Finish(job::Pair(pair_request, work), common);
  });

  command = app.add_subcommand("match", "solve the corrections");
  AddSession(command, match_request.session);
  AddMatch(command, match_request.follow_percent, match_request.settings);
  command
      ->add_option_function<double>(
          "--follow-skin",
          [&](double value) {
            const Status fits = CheckSetting("follow", value);
            if (!fits.ok()) throw CLI::ValidationError("--follow-skin", fits.error().what);
            match_request.follow_skin_percent = value;
          },
          "the same for skin hues (0 to 100 %, usually 100)")
      ->type_name("%");
  for (const bool foliage : {true, false}) {
    const std::string flag = foliage ? "--follow-foliage" : "--follow-sky";
    command
        ->add_option_function<std::string>(
            flag,
            [&, foliage, flag](const std::string& word) {
              double percent = -1;
              if (word != "whole") {
                if (!CLI::detail::lexical_cast(word, percent) || percent < 0)
                  throw CLI::ValidationError(flag, "'" + word + "' is neither a percentage nor 'whole'");
                const Status fits = CheckSetting("follow", percent);
                if (!fits.ok()) throw CLI::ValidationError(flag, fits.error().what);
              }
              (foliage ? match_request.follow_foliage_percent : match_request.follow_sky_percent) = percent;
            },
            fmt::format("the same for {} (0 to 100 %); 'whole': like the rest of the picture, as usual",
                        foliage ? "foliage" : "the sky"))
        ->type_name("%|whole");
  }
  command
      ->add_option("--of", match_request.of_frames,
                   "frames that the --follow options are meant for; none: all")
      ->type_name("FRAME");
  AddLookWish(command, match_request.look);
  command->add_flag("--again", match_request.again, "even when nothing has changed");
  AddCommon(command, common, true);
  command->callback([&] { status = Finish(job::Match(match_request, work), common); });

  command = app.add_subcommand("check", "left-overs, outliers, and the frames that want a look");
  AddSession(command, asked);
  AddCommon(command, common, false);
  command->callback([&] {
    const Result<job::CheckAnswer> answer = job::Check(asked);
    status = Finish(answer, common);
  });

  command = app.add_subcommand("deliver", "write the full-size files");
  AddSession(command, deliver_request.session);
  command->add_option("--out", deliver_request.out, "folder to write to")->required()->type_name("DIR");
  command
      ->add_option("--order", deliver_request.options.orders,
                   "orders that the session keeps (`samelight order`); several go to folders of their names; "
                   "what is said "
                   "of one here is kept with it")
      ->type_name("NAME");
  command->add_flag("--changed", deliver_request.options.changed,
                    "only what is not as it was when the order was last approved");
  AddDeliver(command, deliver_request.options);
  AddCommon(command, common, true);
  command->callback([&] {
    const Result<job::DeliverAnswer> answer = job::Deliver(deliver_request, work);
    status = Finish(answer, common);
    if (answer.ok()) status = FinishDelivery(status, *answer);
  });

  command =
      app.add_subcommand("order", "what is to be delivered, and how: list, keep, drop or approve an order");
  AddSession(command, order_request.session);
  command->add_option("ORDER", order_request.name, "the order; without it all are listed")->type_name("NAME");
  AddOrderFields(command, order_request.fields);
  command->add_flag("--approve", order_request.approve,
                    "what was delivered of it is right; `deliver --changed` counts from here");
  command->add_flag("--drop", order_request.drop, "keep it no longer");
  AddCommon(command, common, false);
  command->callback([&] { status = Finish(job::Orders(order_request), common); });

  command = app.add_subcommand("crop", "how frames are framed");
  AddSession(command, crop_request.session);
  command->add_option("FRAME", crop_request.frames, "frames")->type_name("NAME")->required();
  command->add_option("--turn", crop_request.quarter_turns, "quarters to turn clockwise (0 to 3)")
      ->type_name("QUARTERS");
  command
      ->add_option("--straighten", crop_request.straighten_deg,
                   "degrees to turn the content clockwise (-45 to 45)")
      ->type_name("DEG");
  command
      ->add_option_function<std::vector<double>>(
          "--cut",
          [&](const std::vector<double>& v) {
            crop_request.cut = {v[0] / 100, v[1] / 100, v[2] / 100, v[3] / 100};
          },
          "left, top, right and bottom border of what is kept, in % of the turned picture from its left and "
          "top")
      ->expected(4)
      ->type_name("%");
  command->add_flag("--as-taken", crop_request.as_taken, "as the file says after all");
  AddCommon(command, common, false);
  command->callback([&] { status = Finish(job::Crop(crop_request), common); });

  command = app.add_subcommand("settle", "you have looked at frames and are content, or not any more");
  AddSession(command, settle_request.session);
  command->add_option("FRAME", settle_request.frames, "frames")->type_name("NAME")->required();
  command->add_flag_callback(
      "--to-check", [&] { settle_request.settled = false; }, "they are to be checked after all");
  AddCommon(command, common, false);
  command->callback([&] { status = Finish(job::Settle(settle_request), common); });

  command =
      app.add_subcommand("state", "a frame's touch and follow under a name: list, keep, take up or drop");
  AddSession(command, state_request.session);
  command->add_option("FRAME", state_request.frame, "the frame")->type_name("NAME")->required();
  command->add_option("--keep", state_request.keep, "keep what stands under this name")->type_name("STATE");
  command->add_option("--take-up", state_request.take_up, "make a kept state stand again")
      ->type_name("STATE");
  command->add_option("--drop", state_request.drop, "keep it no longer")->type_name("STATE");
  AddCommon(command, common, false);
  command->callback([&] { status = Finish(job::States(state_request), common); });

  command = app.add_subcommand("run", "all of it: from folders to delivered files and a report");
  AddInput(command, run_request.film, run_request.digital);
  command->get_option("--digital")->required();
  command->add_option("--out", run_request.out, "folder to write to")->required()->type_name("DIR");
  AddDeliver(command, run_request.options);
  AddMatch(command, run_request.follow_percent, run_request.settings);
  AddLookWish(command, run_request.look);
  AddCommon(command, common, true);
  command->callback([&] {
    const Result<job::RunAnswer> answer = job::Run(run_request, work);
    status = Finish(answer, common);
    if (answer.ok()) status = FinishDelivery(status, answer->deliver);
  });

  command = app.add_subcommand("show", "what the session knows, of all or of one picture");
  AddSession(command, asked);
  command->add_option("PICTURE", picture, "file name of a scan or frame")->type_name("NAME");
  AddCommon(command, common, false);
  command->callback([&] {
    if (picture.empty()) {
      // The report is read, not made: what went wrong earlier does not fail this command.
      const Result<report::Report> answer = job::Show(asked);
      status = Finish(answer, common);
      if (answer.ok()) status = kAllWell;
    } else {
      status = Finish(job::ShowPicture(asked, picture), common);
    }
  });

  for (const bool undo : {true, false}) {
    command =
        app.add_subcommand(undo ? "undo" : "redo", undo ? "take a person's last change back"
                                                        : "bring back the change that was taken back last");
    AddSession(command, asked);
    AddCommon(command, common, false);
    command->callback([&, undo] {
      const Result<job::UndoAnswer> answer = undo ? job::Undo(asked) : job::Redo(asked);
      if (answer.ok()) {
        Print(*answer, undo, common.as());
        status = answer->what.empty() ? kNothingDone : kAllWell;
      } else {
        Print(answer.error(), common.as());
        status = StatusOf(answer.error());
      }
    });
  }

  command = app.add_subcommand("history", "your changes, step by step: what each did, which are taken back");
  AddSession(command, asked);
  AddCommon(command, common, false);
  command->callback([&] { status = Finish(job::History(asked), common); });

  AddLook(
      app, looks, work, [&](CLI::App* each, bool works) { AddCommon(each, common, works); },
      [&](const Result<job::LookAnswer>& answer, bool whole) {
        if (answer.ok()) {
          Print(*answer, whole, common.as());
          status = answer->problems.empty() ? kAllWell : kSomeFailed;
        } else {
          Print(answer.error(), common.as());
          status = StatusOf(answer.error());
        }
      },
      [&](const Result<job::LookExportAnswer>& answer) { status = Finish(answer, common); });

  command = app.add_subcommand("window", "open the window, on a session or to begin one");
  command->add_option("SESSION", window_session, "the session file")->type_name("SESSION");
  command->callback([&] {
    std::error_code ec;
    const Error error = !window_session.empty() && !std::filesystem::exists(window_session, ec)
                            ? Error{ErrorCode::kNotFound, "there is no such session", window_session.string(),
                                    "check the name; without a name the window begins a new one"}
                            : StartWindow(window_session);
    Print(error, As::kText);
    status = StatusOf(error);
  });

  command = app.add_subcommand("demo", "write a small invented session to try");
  command->add_option("DIR", demo_request.folder, "folder to write to")->required()->type_name("DIR");
  command->add_option("--seed", demo_request.seed, "another seed makes another day (usually 1)")
      ->type_name("NUMBER");
  command
      ->add_option("--score", scored,
                   "write nothing; tell how near the files that `run` wrote to OUT come to the truth of the "
                   "demo in DIR")
      ->type_name("OUT");
  AddCommon(command, common, true);
  command->callback([&] {
    status = scored.empty() ? Finish(job::Demo(demo_request, work), common)
                            : Finish(job::ScoreDemo(demo_request.folder, scored, work), common);
  });

  // Before any callback: the workers are set when the options are known.
  const std::function<void(CLI::App&)> use_workers = [&](CLI::App& of) {
    for (CLI::App* each : of.get_subcommands([](CLI::App*) { return true; })) {
      each->parse_complete_callback([&] { job::UseWorkers(static_cast<int>(common.jobs)); });
      use_workers(*each);
    }
  };
  use_workers(app);

  try {
    app.parse(argc, argv);
  } catch (const CLI::Success& e) {
    return app.exit(e);  // help or version
  } catch (const CLI::ParseError& e) {
    app.exit(e);
    return kWrongUse;
  }
  return status;
}

}  // namespace

int Main(int argc, char** argv) {
  int status = kNothingDone;
  try {
    status = Run(argc, argv);
  } catch (const std::bad_alloc&) {
    fmt::print(stderr,
               "samelight: there is not enough memory: close other programs, or set --memory lower\n");
  } catch (const std::exception& e) {
    fmt::print(stderr, "samelight: something unexpected failed: {}\n", e.what());
  }
  // A full disk or a closed pipe must not look like success.
  if (std::fflush(stdout) != 0 && status == kAllWell) status = kNothingDone;
  return status;
}

}  // namespace samelight::cli
