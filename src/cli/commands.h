// Every command of the program: what it may be asked, and what is done then.
#pragma once

#include <string>
#include <vector>

#include <CLI/CLI.hpp>

#include "cli/look_commands.h"
#include "cli/options.h"
#include "job/job.h"

namespace samelight::cli {

// Exit statuses.
inline constexpr int kAllWell = 0, kSomeFailed = 1, kWrongUse = 2, kNothingDone = 3, kStopped = 130;

class Commands {
 public:
  explicit Commands(const job::Work& work);
  Commands(const Commands&) = delete;
  Commands& operator=(const Commands&) = delete;
  // Reads the words, does what they ask, prints the answer; the exit status.
  int Run(int argc, char** argv);

 private:
  void AddNew();
  void AddPair();
  void AddMatching();
  void AddCheck();
  void AddDelivery();
  void AddOrder();
  void AddCrop();
  void AddSettle();
  void AddState();
  void AddRun();
  void AddShow();
  void AddUndoAndRedo();
  void AddHistory();
  void AddLooks();
  void AddWindow();
  void AddDemo();

  const job::Work& work_;
  CLI::App app_;
  Common common_;
  job::NewRequest new_;
  job::PairRequest pair_;
  job::MatchRequest match_;
  job::DeliverRequest deliver_;
  job::OrderRequest order_;
  job::CropRequest crop_;
  job::SettleRequest settle_;
  job::StateRequest state_;
  job::RunRequest run_;
  job::DemoRequest demo_;
  LookCommands looks_;
  job::fs::path asked_, scored_, window_session_;
  std::string picture_;
  std::vector<std::string> roll_words_, light_words_;
  int status_ = kAllWell;
};

}  // namespace samelight::cli
