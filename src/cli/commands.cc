#include "cli/commands.h"

#include <fmt/format.h>

#include "base/setting.h"
#include "cli/start_window.h"

namespace samelight::cli {
namespace {

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

}  // namespace

Commands::Commands(const job::Work& work)
    : work_(work),
      app_("Brings digital frames to the look of the film scans that were taken beside them.", "samelight") {
  app_.set_version_flag("--version", job::Version(), "print the version");
  app_.require_subcommand(1);
  app_.footer(
      "Exit status: 0 all well, 1 some files failed (they are named), 2 wrong use, 3 nothing could be done, "
      "130 stopped.\nOriginals are never written to.");
  AddNew();
  AddPair();
  AddMatching();
  AddCheck();
  AddDelivery();
  AddOrder();
  AddCrop();
  AddSettle();
  AddState();
  AddRun();
  AddShow();
  AddUndoAndRedo();
  AddHistory();
  AddLooks();
  AddWindow();
  AddDemo();
}

int Commands::Run(int argc, char** argv) {
  // Before any callback: the workers are set when the options are known.
  const std::function<void(CLI::App&)> use_workers = [&](CLI::App& of) {
    for (CLI::App* each : of.get_subcommands([](CLI::App*) { return true; })) {
      each->parse_complete_callback([this] { job::UseWorkers(static_cast<int>(common_.jobs)); });
      use_workers(*each);
    }
  };
  use_workers(app_);

  try {
    app_.parse(argc, argv);
  } catch (const CLI::Success& e) {
    return app_.exit(e);  // help or version
  } catch (const CLI::ParseError& e) {
    app_.exit(e);
    return kWrongUse;
  }
  return status_;
}

void Commands::AddNew() {
  CLI::App* command = app_.add_subcommand("new", "take stock of a session: find scans and frames");
  AddSession(command, new_.session);
  AddInput(command, new_.film, new_.digital);
  AddCommon(command, common_, true);
  command->callback([this] { status_ = Finish(job::New(new_, work_), common_); });
}

void Commands::AddPair() {
  CLI::App* command =
      app_.add_subcommand("pair", "find which scan and which frame belong together, or say it");
  AddSession(command, pair_.session);
  command->add_option("--join", pair_.join, "these two show the same moment")
      ->type_name("SCAN FRAME")
      ->allow_extra_args(false);
  command->add_option("--refuse", pair_.refuse, "these two do not belong together")
      ->type_name("SCAN FRAME")
      ->allow_extra_args(false);
  command->add_option("--bar", pair_.bar, "keep the pair, keep the scan out of the look")
      ->type_name("SCAN")
      ->allow_extra_args(false);
  command
      ->add_option("--unbar", pair_.unbar,
                   "let a barred scan into the look again, or one that coloured lamps kept out")
      ->type_name("SCAN")
      ->allow_extra_args(false);
  command
      ->add_option(
          "--roll", roll_words_,
          "what is known of a roll: name=, stock=, lab=, format=, rating=ISO, push=EV (-3 to 3), "
          "scan-day=DATE, black-and-white=yes|no, expired=yes|no (old film: its scans are paired, but "
          "kept out of the look), split=SCAN (another roll begins there), join=OTHER ROLL")
      ->type_name("ROLL key=value");
  command
      ->add_option(
          "--light", light_words_,
          "what is known of a light: name=, join=OTHER LIGHT, split=FRAME (a new light begins there)")
      ->type_name("LIGHT key=value");
  command->add_option("--clock", pair_.clock, "seconds to be added to the clock of a body")
      ->type_name("BODY SECONDS")
      ->allow_extra_args(false);
  command->add_flag("--again", pair_.again, "even when nothing has changed");
  AddCommon(command, common_, true);
  command->callback([this] {
    for (const bool roll : {true, false}) {
      Result<Facts> facts = FactsOf(roll ? roll_words_ : light_words_, roll ? "--roll" : "--light");
      if (!facts.ok()) {
        Print(facts.error(), common_.as());
        status_ = kWrongUse;
        return;
      }
      (roll ? pair_.roll : pair_.light) = std::move(facts).value();
    }
    status_ = Finish(job::Pair(pair_, work_), common_);
  });
}

void Commands::AddMatching() {
  CLI::App* command = app_.add_subcommand("match", "solve the corrections");
  AddSession(command, match_.session);
  AddMatch(command, match_.follow_percent, match_.settings);
  command
      ->add_option_function<double>(
          "--follow-skin",
          [this](double value) {
            const Status fits = CheckSetting("follow", value);
            if (!fits.ok()) throw CLI::ValidationError("--follow-skin", fits.error().what);
            match_.follow_skin_percent = value;
          },
          "the same for skin hues (0 to 100 %, usually 100)")
      ->type_name("%");
  for (const bool foliage : {true, false}) {
    const std::string flag = foliage ? "--follow-foliage" : "--follow-sky";
    command
        ->add_option_function<std::string>(
            flag,
            [this, foliage, flag](const std::string& word) {
              double percent = -1;
              if (word != "whole") {
                if (!CLI::detail::lexical_cast(word, percent) || percent < 0)
                  throw CLI::ValidationError(flag, "'" + word + "' is neither a percentage nor 'whole'");
                const Status fits = CheckSetting("follow", percent);
                if (!fits.ok()) throw CLI::ValidationError(flag, fits.error().what);
              }
              (foliage ? match_.follow_foliage_percent : match_.follow_sky_percent) = percent;
            },
            fmt::format("the same for {} (0 to 100 %); 'whole': like the rest of the picture, as usual",
                        foliage ? "foliage" : "the sky"))
        ->type_name("%|whole");
  }
  command->add_option("--of", match_.of_frames, "frames that the --follow options are meant for; none: all")
      ->type_name("FRAME");
  AddLookWish(command, match_.look);
  command->add_flag("--again", match_.again, "even when nothing has changed");
  AddCommon(command, common_, true);
  command->callback([this] { status_ = Finish(job::Match(match_, work_), common_); });
}

void Commands::AddCheck() {
  CLI::App* command = app_.add_subcommand("check", "left-overs, outliers, and the frames that want a look");
  AddSession(command, asked_);
  AddCommon(command, common_, false);
  command->callback([this] {
    const Result<job::CheckAnswer> answer = job::Check(asked_);
    status_ = Finish(answer, common_);
  });
}

void Commands::AddDelivery() {
  CLI::App* command = app_.add_subcommand("deliver", "write the full-size files");
  AddSession(command, deliver_.session);
  command->add_option("--out", deliver_.out, "folder to write to")->required()->type_name("DIR");
  command
      ->add_option("--order", deliver_.options.orders,
                   "orders that the session keeps (`samelight order`); several go to folders of their names; "
                   "what is said "
                   "of one here is kept with it")
      ->type_name("NAME");
  command->add_flag("--changed", deliver_.options.changed,
                    "only what is not as it was when the order was last approved");
  AddDeliver(command, deliver_.options);
  AddCommon(command, common_, true);
  command->callback([this] {
    const Result<job::DeliverAnswer> answer = job::Deliver(deliver_, work_);
    status_ = Finish(answer, common_);
    if (answer.ok()) status_ = FinishDelivery(status_, *answer);
  });
}

void Commands::AddOrder() {
  CLI::App* command =
      app_.add_subcommand("order", "what is to be delivered, and how: list, keep, drop or approve an order");
  AddSession(command, order_.session);
  command->add_option("ORDER", order_.name, "the order; without it all are listed")->type_name("NAME");
  AddOrderFields(command, order_.fields);
  command->add_flag("--approve", order_.approve,
                    "what was delivered of it is right; `deliver --changed` counts from here");
  command->add_flag("--drop", order_.drop, "keep it no longer");
  AddCommon(command, common_, false);
  command->callback([this] { status_ = Finish(job::Orders(order_), common_); });
}

void Commands::AddCrop() {
  CLI::App* command = app_.add_subcommand("crop", "how frames are framed");
  AddSession(command, crop_.session);
  command->add_option("FRAME", crop_.frames, "frames")->type_name("NAME")->required();
  command->add_option("--turn", crop_.quarter_turns, "quarters to turn clockwise (0 to 3)")
      ->type_name("QUARTERS");
  command
      ->add_option("--straighten", crop_.straighten_deg, "degrees to turn the content clockwise (-45 to 45)")
      ->type_name("DEG");
  command
      ->add_option_function<std::vector<double>>(
          "--cut",
          [this](const std::vector<double>& v) {
            crop_.cut = {v[0] / 100, v[1] / 100, v[2] / 100, v[3] / 100};
          },
          "left, top, right and bottom border of what is kept, in % of the turned picture from its left and "
          "top")
      ->expected(4)
      ->type_name("%");
  command->add_flag("--as-taken", crop_.as_taken, "as the file says after all");
  AddCommon(command, common_, false);
  command->callback([this] { status_ = Finish(job::Crop(crop_), common_); });
}

void Commands::AddSettle() {
  CLI::App* command =
      app_.add_subcommand("settle", "you have looked at frames and are content, or not any more");
  AddSession(command, settle_.session);
  command->add_option("FRAME", settle_.frames, "frames")->type_name("NAME")->required();
  command->add_flag_callback(
      "--to-check", [this] { settle_.settled = false; }, "they are to be checked after all");
  AddCommon(command, common_, false);
  command->callback([this] { status_ = Finish(job::Settle(settle_), common_); });
}

void Commands::AddState() {
  CLI::App* command =
      app_.add_subcommand("state", "a frame's touch and follow under a name: list, keep, take up or drop");
  AddSession(command, state_.session);
  command->add_option("FRAME", state_.frame, "the frame")->type_name("NAME")->required();
  command->add_option("--keep", state_.keep, "keep what stands under this name")->type_name("STATE");
  command->add_option("--take-up", state_.take_up, "make a kept state stand again")->type_name("STATE");
  command->add_option("--drop", state_.drop, "keep it no longer")->type_name("STATE");
  AddCommon(command, common_, false);
  command->callback([this] { status_ = Finish(job::States(state_), common_); });
}

void Commands::AddRun() {
  CLI::App* command = app_.add_subcommand("run", "all of it: from folders to delivered files and a report");
  AddInput(command, run_.film, run_.digital);
  command->get_option("--digital")->required();
  command->add_option("--out", run_.out, "folder to write to")->required()->type_name("DIR");
  AddDeliver(command, run_.options);
  AddMatch(command, run_.follow_percent, run_.settings);
  AddLookWish(command, run_.look);
  AddCommon(command, common_, true);
  command->callback([this] {
    const Result<job::RunAnswer> answer = job::Run(run_, work_);
    status_ = Finish(answer, common_);
    if (answer.ok()) status_ = FinishDelivery(status_, answer->deliver);
  });
}

void Commands::AddShow() {
  CLI::App* command = app_.add_subcommand("show", "what the session knows, of all or of one picture");
  AddSession(command, asked_);
  command->add_option("PICTURE", picture_, "file name of a scan or frame")->type_name("NAME");
  AddCommon(command, common_, false);
  command->callback([this] {
    if (picture_.empty()) {
      // The report is read, not made: what went wrong earlier does not fail this command.
      const Result<report::Report> answer = job::Show(asked_);
      status_ = Finish(answer, common_);
      if (answer.ok()) status_ = kAllWell;
    } else {
      status_ = Finish(job::ShowPicture(asked_, picture_), common_);
    }
  });
}

void Commands::AddUndoAndRedo() {
  for (const bool undo : {true, false}) {
    CLI::App* command =
        app_.add_subcommand(undo ? "undo" : "redo", undo ? "take a person's last change back"
                                                         : "bring back the change that was taken back last");
    AddSession(command, asked_);
    AddCommon(command, common_, false);
    command->callback([this, undo] {
      const Result<job::UndoAnswer> answer = undo ? job::Undo(asked_) : job::Redo(asked_);
      if (answer.ok()) {
        Print(*answer, undo, common_.as());
        status_ = answer->what.empty() ? kNothingDone : kAllWell;
      } else {
        Print(answer.error(), common_.as());
        status_ = StatusOf(answer.error());
      }
    });
  }
}

void Commands::AddHistory() {
  CLI::App* command =
      app_.add_subcommand("history", "your changes, step by step: what each did, which are taken back");
  AddSession(command, asked_);
  AddCommon(command, common_, false);
  command->callback([this] { status_ = Finish(job::History(asked_), common_); });
}

void Commands::AddLooks() {
  AddLook(
      app_, looks_, work_, [this](CLI::App* each, bool works) { AddCommon(each, common_, works); },
      [this](const Result<job::LookAnswer>& answer, bool whole) {
        if (answer.ok()) {
          Print(*answer, whole, common_.as());
          status_ = answer->problems.empty() ? kAllWell : kSomeFailed;
        } else {
          Print(answer.error(), common_.as());
          status_ = StatusOf(answer.error());
        }
      },
      [this](const Result<job::LookExportAnswer>& answer) { status_ = Finish(answer, common_); });
}

void Commands::AddWindow() {
  CLI::App* command = app_.add_subcommand("window", "open the window, on a session or to begin one");
  command->add_option("SESSION", window_session_, "the session file")->type_name("SESSION");
  command->callback([this] {
    std::error_code ec;
    const Error error =
        !window_session_.empty() && !std::filesystem::exists(window_session_, ec)
            ? Error{ErrorCode::kNotFound, "there is no such session", window_session_.string(),
                    "check the name; without a name the window begins a new one"}
            : StartWindow(window_session_);
    Print(error, As::kText);
    status_ = StatusOf(error);
  });
}

void Commands::AddDemo() {
  CLI::App* command = app_.add_subcommand("demo", "write a small invented session to try");
  command->add_option("DIR", demo_.folder, "folder to write to")->required()->type_name("DIR");
  command->add_option("--seed", demo_.seed, "another seed makes another day (usually 1)")
      ->type_name("NUMBER");
  command
      ->add_option("--score", scored_,
                   "write nothing; tell how near the files that `run` wrote to OUT come to the truth of the "
                   "demo in DIR")
      ->type_name("OUT");
  AddCommon(command, common_, true);
  command->callback([this] {
    status_ = scored_.empty() ? Finish(job::Demo(demo_, work_), common_)
                              : Finish(job::ScoreDemo(demo_.folder, scored_, work_), common_);
  });
}

}  // namespace samelight::cli
