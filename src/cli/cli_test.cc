// The program as a person runs it, end to end, on a small invented session: commands, exit statuses, JSON,
// stopping, kills.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <thread>

#include "base/cancel.h"
#include "cli/progress_lines.h"
#include "simulate/session.h"

namespace samelight::cli {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using testing::HasSubstr;
using testing::Not;
using Clock = std::chrono::steady_clock;

std::string ContentOf(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

// All files below a folder with their content.
std::map<std::string, std::string> Contents(const fs::path& folder) {
  std::map<std::string, std::string> all;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file())
      all[entry.path().lexically_relative(folder).string()] = ContentOf(entry.path());
  return all;
}

// A running samelight; its outputs go to files.
class Program {
 public:
  Program(const fs::path& folder, const std::vector<std::string>& arguments)
      : out_(folder / "stdout.txt"), err_(folder / "stderr.txt") {
    pid_ = ::fork();
    if (pid_ != 0) return;
    const int out = ::open(out_.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
    const int err = ::open(err_.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
    ::dup2(out, STDOUT_FILENO);
    ::dup2(err, STDERR_FILENO);
    std::vector<char*> argv = {const_cast<char*>(SAMELIGHT_PROGRAM)};
    for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
    argv.push_back(nullptr);
    ::execv(SAMELIGHT_PROGRAM, argv.data());
    ::_exit(127);
  }
  void Signal(int number) const { ::kill(pid_, number); }
  // The exit status; 128 + number when a signal ended it.
  int Wait() const {
    int status = 0;
    ::waitpid(pid_, &status, 0);
    return WIFSIGNALED(status) ? 128 + WTERMSIG(status) : WEXITSTATUS(status);
  }
  // Waits until the error output holds `text`; false when the process ends before.
  bool Says(const std::string& text) const {
    while (true) {
      if (ContentOf(err_).find(text) != std::string::npos) return true;
      siginfo_t info{};
      if (::waitid(P_PID, static_cast<id_t>(pid_), &info, WEXITED | WNOHANG | WNOWAIT) != 0 ||
          info.si_pid != 0)
        return ContentOf(err_).find(text) != std::string::npos;
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
  }
  std::string out() const { return ContentOf(out_); }
  std::string err() const { return ContentOf(err_); }

 private:
  fs::path out_, err_;
  pid_t pid_ = -1;
};

class ProgramTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    std::string pattern = (fs::temp_directory_path() / "samelight-program-XXXXXX").string();
    ASSERT_NE(::mkdtemp(pattern.data()), nullptr);
    all_ = new fs::path(fs::canonical(pattern));
    simulate::SessionOptions options;
    options.seed = 77;
    options.painted = true;
    options.frame_long_side_px = 400;
    options.lights = 2;
    options.frames = 6;
    options.scans = 3;
    SilentProgress silent;
    const auto summary = simulate::WriteSession(*all_ / "demo", options, silent, Cancel());
    ASSERT_TRUE(summary.ok()) << summary.error().Text();
    fs::remove_all(*all_ / "demo" / "truth");
    // One whole run that most tests look at.
    Program run(*all_, Arguments(*all_ / "out"));
    status_ = run.Wait();
    text_ = run.out() + run.err();
  }
  static void TearDownTestSuite() {
    fs::remove_all(*all_);
    delete all_;
  }
  void SetUp() override {
    folder_ = *all_ / testing::UnitTest::GetInstance()->current_test_info()->name();
    fs::create_directories(folder_);
  }

  static fs::path Film() { return *all_ / "demo" / "film"; }
  static fs::path Digital() { return *all_ / "demo" / "digital"; }
  static std::vector<std::string> Arguments(const fs::path& out, const std::vector<std::string>& more = {}) {
    std::vector<std::string> arguments = {
        "run",      "--film", Film().string(), "--digital", Digital().string(), "--out", out.string(),
        "--format", "tiff16", "--grain",       "off"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return arguments;
  }
  // Runs to the end; the status, and the outputs in `out` and `err`.
  int Call(const std::vector<std::string>& arguments) {
    Program program(folder_, arguments);
    const int status = program.Wait();
    out_ = program.out();
    err_ = program.err();
    return status;
  }
  json Answer() const { return json::parse(out_); }
  // Every key of the answer stands in docs/answers.md, as `key` or as the end of `a.key`.
  void ExpectDocumented(const json& answer) const {
    static const std::string page = ContentOf(fs::path(SAMELIGHT_SOURCE_DIR) / "docs" / "answers.md");
    if (answer.is_array())
      for (const json& item : answer) ExpectDocumented(item);
    if (!answer.is_object()) return;
    for (const auto& [key, value] : answer.items()) {
      EXPECT_TRUE(page.find("`" + key + "`") != std::string::npos ||
                  page.find("." + key + "`") != std::string::npos)
          << key << " is not in docs/answers.md";
      ExpectDocumented(value);
    }
  }
  static std::string Session() { return (*all_ / "out" / "session.samelight").string(); }
  static std::map<std::string, std::string> Delivered(const fs::path& folder) {
    std::map<std::string, std::string> files;
    for (const auto& entry : fs::directory_iterator(folder))
      if (entry.path().extension() == ".tif")
        files[entry.path().filename().string()] = ContentOf(entry.path());
    return files;
  }

  static fs::path* all_;
  static int status_;
  static std::string text_;
  fs::path folder_;
  std::string out_, err_;
};
fs::path* ProgramTest::all_ = nullptr;
int ProgramTest::status_ = -1;
std::string ProgramTest::text_;

TEST_F(ProgramTest, RunWritesAFileForEveryFrameAndTheReports) {
  ASSERT_EQ(status_, 0) << text_;
  const fs::path out = *all_ / "out";
  const json report = json::parse(ContentOf(out / "report.json"));
  ASSERT_EQ(report["frames"].size(), 6u);
  EXPECT_TRUE(report["problems"].empty());
  EXPECT_EQ(report["scans"].size(), 3u);
  for (const json& frame : report["frames"]) {
    const fs::path file = out / frame["output"].get<std::string>();
    EXPECT_TRUE(fs::is_regular_file(file)) << file;
    // TIFF 6.0, section 2: byte order, then 42.
    const std::string head = ContentOf(file).substr(0, 4);
    EXPECT_TRUE(head == std::string("II*\0", 4) || head == std::string("MM\0*", 4)) << file;
  }
  EXPECT_EQ(Delivered(out).size(), 6u);
  EXPECT_THAT(ContentOf(out / "report.html"), HasSubstr("</html>"));
  EXPECT_THAT(text_, HasSubstr("6 files of 6 frames in")) << "plain lines where there is no terminal";
  EXPECT_THAT(text_, Not(HasSubstr("\x1b")));
}

TEST_F(ProgramTest, ASecondRunDoesNothingTwiceAndOriginalsStay) {
  const auto originals = Contents(*all_ / "demo");
  const auto delivered = Delivered(*all_ / "out");
  const auto written = fs::last_write_time(*all_ / "out" / delivered.begin()->first);
  ASSERT_EQ(Call(Arguments(*all_ / "out", {"--json"})), 0) << err_;
  const json answer = Answer();
  ExpectDocumented(answer);
  EXPECT_EQ(answer["deliver"]["written"], 0);
  EXPECT_EQ(answer["deliver"]["kept"], 6);
  EXPECT_EQ(answer["pair"]["computed"], false);
  EXPECT_EQ(answer["match"]["computed"], false);
  EXPECT_EQ(fs::last_write_time(*all_ / "out" / delivered.begin()->first), written);
  EXPECT_EQ(Contents(*all_ / "demo"), originals);
  // A file that was lost is made again, and no other.
  fs::remove(*all_ / "out" / delivered.begin()->first);
  ASSERT_EQ(Call(Arguments(*all_ / "out", {"--json"})), 0) << err_;
  EXPECT_EQ(Answer()["deliver"]["written"], 1);
  EXPECT_EQ(Delivered(*all_ / "out"), delivered);
}

TEST_F(ProgramTest, ThePixelsDoNotDependOnTheNumberOfWorkers) {
  ASSERT_EQ(Call(Arguments(folder_ / "one", {"--jobs", "1"})), 0) << err_;
  EXPECT_EQ(Delivered(folder_ / "one"), Delivered(*all_ / "out"));
}

TEST_F(ProgramTest, AStopIsAnsweredSoonAndTheNextRunGoesOn) {
  const fs::path out = folder_ / "out";
  for (const char* stage : {"reading pictures", "delivering"}) {
    Program run(folder_, Arguments(out));
    ASSERT_TRUE(run.Says(stage)) << run.err();
    const auto asked = Clock::now();
    run.Signal(SIGINT);
    const int status = run.Wait();
    const double seconds = std::chrono::duration<double>(Clock::now() - asked).count();
    EXPECT_EQ(status, 130) << stage << "\n" << run.err();
    EXPECT_LT(seconds, 3) << "500 ms or one library call; a busy machine gets more";
    if (status == 130) EXPECT_THAT(run.err(), HasSubstr("stopped"));
  }
  const auto whole = Delivered(*all_ / "out");
  for (const auto& [name, content] : Delivered(out))
    EXPECT_EQ(content, whole.at(name)) << "nothing half-written";
  ASSERT_EQ(Call(Arguments(out)), 0) << err_;
  EXPECT_EQ(Delivered(out), whole);
}

TEST_F(ProgramTest, AfterKillsTheNextRunEndsWithTheSameFiles) {
  const fs::path out = folder_ / "out";
  const auto whole = Delivered(*all_ / "out");
  int killed = 0;
  for (const int ms : {30, 200, 500, 700, 900, 1200, 1500}) {
    Program run(folder_, Arguments(out));
    std::this_thread::sleep_for(std::chrono::milliseconds(ms));
    run.Signal(SIGKILL);
    if (run.Wait() == 128 + SIGKILL) ++killed;
    if (!fs::exists(out)) continue;
    for (const auto& [name, content] : Delivered(out)) EXPECT_EQ(content, whole.at(name));
  }
  EXPECT_GE(killed, 2);
  ASSERT_EQ(Call(Arguments(out)), 0) << err_;
  EXPECT_EQ(Delivered(out), whole);
  for (const auto& entry : fs::directory_iterator(out))
    EXPECT_FALSE(entry.path().filename().string().starts_with(".")) << entry.path() << " was left behind";
}

TEST_F(ProgramTest, WrongUseIsTwo) {
  EXPECT_EQ(Call({}), 2);
  EXPECT_EQ(Call({"dance"}), 2);
  EXPECT_EQ(Call({"run", "--film", "x"}), 2);
  EXPECT_EQ(Call(Arguments(folder_ / "o", {"--format", "gif"})), 2);
  EXPECT_EQ(Call(Arguments(folder_ / "o", {"--follow", "120"})), 2);
  EXPECT_THAT(err_, HasSubstr("120 %, but goes from 0 % to 100 %"));
  EXPECT_EQ(Call(Arguments(folder_ / "o", {"--grain", "perhaps"})), 2);
  EXPECT_EQ(Call({"pair", Session(), "--roll", "name=x"}), 2);
  EXPECT_EQ(Call({"pair", Session(), "--roll", "roll-1"}), 2);
  EXPECT_FALSE(fs::exists(folder_ / "o"));
  // Delivering among the originals could write over one.
  EXPECT_EQ(
      Call({"run", "--film", Film().string(), "--digital", Digital().string(), "--out", Digital().string()}),
      2);
  EXPECT_EQ(Call({"deliver", Session(), "--out", (Digital() / "body-1").string()}), 2);
}

TEST_F(ProgramTest, HelpAndVersionAreAllWell) {
  EXPECT_EQ(Call({"--help"}), 0);
  for (const char* command : {"new", "pair", "match", "check", "order", "crop", "settle", "state", "deliver",
                              "run", "show", "undo", "redo", "history", "demo"}) {
    EXPECT_EQ(Call({command, "--help"}), 0);
    EXPECT_THAT(out_, HasSubstr("--json")) << command;
  }
  EXPECT_EQ(Call({"--version"}), 0);
  EXPECT_THAT(out_, testing::MatchesRegex("[0-9]+\\.[0-9]+\\.[0-9]+\n"));
}

TEST_F(ProgramTest, NothingThatCouldBeDoneIsThree) {
  fs::create_directories(folder_ / "empty");
  const std::string empty = (folder_ / "empty").string(), out = (folder_ / "o").string();
  EXPECT_EQ(Call({"run", "--digital", (folder_ / "missing").string(), "--out", out}), 3);
  EXPECT_THAT(err_, HasSubstr("missing"));
  EXPECT_EQ(Call({"run", "--digital", empty, "--out", out}), 3);
  EXPECT_THAT(err_, HasSubstr("no digital frame"));
  EXPECT_EQ(Call({"run", "--film", Film().string(), "--digital", empty, "--out", out, "--json"}), 3);
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["error"]["code"], "nothing-to-do");
  EXPECT_EQ(Call({"show", (folder_ / "none.samelight").string()}), 3);
  std::ofstream(folder_ / "empty" / "broken.jpg") << "\xff\xd8\xff and then nothing";
  EXPECT_EQ(Call({"run", "--digital", empty, "--out", out}), 3);
  EXPECT_THAT(err_, HasSubstr("broken.jpg"));
}

TEST_F(ProgramTest, ABrokenFileIsNamedAndTheOthersAreDelivered) {
  fs::copy(Digital(), folder_ / "digital", fs::copy_options::recursive);
  fs::path cut;
  for (const auto& entry : fs::recursive_directory_iterator(folder_ / "digital"))
    if (entry.path().extension() == ".dng") cut = entry.path();
  ASSERT_FALSE(cut.empty());
  fs::resize_file(cut, fs::file_size(cut) / 2);
  EXPECT_EQ(Call({"run", "--film", Film().string(), "--digital", (folder_ / "digital").string(), "--out",
                  (folder_ / "out").string(), "--format", "tiff8", "--json"}),
            1);
  const json answer = Answer();
  ASSERT_EQ(answer["problems"].size(), 1u) << out_;
  EXPECT_THAT(answer["problems"][0]["file"].get<std::string>(), HasSubstr(cut.filename().string()));
  EXPECT_EQ(Delivered(folder_ / "out").size(), 5u);
}

TEST_F(ProgramTest, WithoutFilmTheFramesAreDeliveredAndItIsSaid) {
  EXPECT_EQ(Call({"run", "--digital", Digital().string(), "--out", (folder_ / "out").string(), "--format",
                  "tiff8"}),
            0);
  EXPECT_THAT(out_, HasSubstr("no film scan"));
  EXPECT_THAT(out_, HasSubstr("note: "));
  EXPECT_EQ(Delivered(folder_ / "out").size(), 6u);
}

TEST_F(ProgramTest, ASecondProcessIsTold) {
  Program first(folder_, Arguments(folder_ / "out"));
  ASSERT_TRUE(first.Says("reading pictures"));
  fs::create_directories(folder_ / "second");
  Program second(folder_ / "second", Arguments(folder_ / "out"));
  EXPECT_EQ(second.Wait(), 3);
  EXPECT_THAT(second.err(), HasSubstr("in use by another samelight"));
  EXPECT_EQ(first.Wait(), 0);
}

TEST_F(ProgramTest, AFileOfOthersIsNotWrittenOver) {
  const fs::path out = folder_ / "out";
  fs::create_directories(out);
  const std::string name = Delivered(*all_ / "out").begin()->first;
  std::ofstream(out / name) << "somebody's work";
  EXPECT_EQ(Call(Arguments(out)), 1);
  EXPECT_EQ(ContentOf(out / name), "somebody's work");
  EXPECT_THAT(err_, testing::AllOf(HasSubstr(name), HasSubstr("--again")));
  EXPECT_EQ(Delivered(out).size(), 6u);
  EXPECT_EQ(Call(Arguments(out, {"--again"})), 0);
  EXPECT_EQ(Delivered(out), Delivered(*all_ / "out"));
}

TEST_F(ProgramTest, TheStepsOneByOneAnswerInJson) {
  const std::string session = (folder_ / "w.samelight").string();
  ASSERT_EQ(Call({"new", session, "--film", Film().string(), "--digital", Digital().string(), "--json"}), 0)
      << err_;
  EXPECT_EQ(Answer()["scans"], 3);
  EXPECT_EQ(Answer()["frames"], 6);
  ASSERT_EQ(Call({"pair", session, "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["scans"], 3);
  EXPECT_EQ(Answer()["computed"], true);
  ASSERT_EQ(Call({"match", session, "--follow", "80", "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["frames"], 6);
  ASSERT_EQ(Call({"check", session, "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["frames"], 6);
  EXPECT_EQ(Answer()["look_at"].size(), Answer()["to_check"].get<std::size_t>());
  ASSERT_EQ(Call({"show", session, "--json"}), 0) << err_;
  const json all = Answer();
  EXPECT_EQ(all["settings"]["follow"], 80);
  const std::string frame = all["frames"][0]["frame"];
  ASSERT_EQ(Call({"show", session, frame, "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["role"], "frame");
  EXPECT_EQ(Answer()["correction"]["follow"], 80);
  ASSERT_EQ(Call({"show", session, all["scans"][0]["scan"], "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["role"], "scan");
}

TEST_F(ProgramTest, GrainIsTheSameEachTimeAndOffIsExactlyOff) {
  const std::string session = (folder_ / "w.samelight").string();
  const auto off = Delivered(*all_ / "out");
  ASSERT_EQ(Call({"new", session, "--film", Film().string(), "--digital", Digital().string()}), 0) << err_;
  bool none = false;
  const auto deliver = [&](const std::string& name, const std::string& grain) {
    EXPECT_EQ(Call({"deliver", session, "--out", (folder_ / name).string(), "--format", "tiff16", "--grain",
                    grain}),
              0)
        << err_;
    none = out_.find("without grain") != std::string::npos;
    return Delivered(folder_ / name);
  };
  EXPECT_EQ(deliver("off", "off"), off);
  const auto on = deliver("on", "on");
  const bool none_first = none;
  EXPECT_EQ(deliver("again", "on"), on);
  EXPECT_EQ(none, none_first);
  ASSERT_EQ(on.size(), off.size());
  // These scans are small; where they hold too little flat film, that is said and nothing is added.
  for (const auto& [name, content] : on) EXPECT_EQ(content == off.at(name), none) << name;
}

TEST_F(ProgramTest, APersonsWordOutranksSurvivesAndCanBeTakenBack) {
  const std::string session = (folder_ / "w.samelight").string();
  ASSERT_EQ(Call({"new", session, "--film", Film().string(), "--digital", Digital().string()}), 0);
  ASSERT_EQ(Call({"pair", session}), 0);
  ASSERT_EQ(Call({"show", session, "--json"}), 0);
  const json before = Answer();
  const std::string scan = before["scans"][0]["scan"],
                    was = before["scans"][0]["frame"].is_null()
                              ? std::string()
                              : before["scans"][0]["frame"].get<std::string>();
  std::string other;
  for (const json& frame : before["frames"])
    if (frame["frame"] != was) other = frame["frame"];
  const auto partner = [&] {
    EXPECT_EQ(Call({"pair", session}), 0) << err_;
    EXPECT_EQ(Call({"show", session, scan, "--json"}), 0) << err_;
    return Answer()["partner"].is_null() ? std::string() : Answer()["partner"].get<std::string>();
  };
  ASSERT_EQ(Call({"pair", session, "--join", scan, other}), 0) << err_;
  EXPECT_EQ(partner(), other);
  ASSERT_EQ(Call({"pair", session, "--again"}), 0);
  EXPECT_EQ(partner(), other) << "survives a re-run";
  EXPECT_EQ(Answer()["pair"]["by_person"], true);
  ASSERT_EQ(Call({"undo", session, "--json"}), 0);
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["taken_back"], 1);
  EXPECT_EQ(partner(), was);
  const auto history = [&] {
    EXPECT_EQ(Call({"history", session, "--json"}), 0) << err_;
    ExpectDocumented(Answer());
    return Answer();
  };
  json steps = history();
  ASSERT_EQ(steps["steps"].size(), 1u);
  EXPECT_EQ(steps["steps"][0]["taken_back"], true);
  EXPECT_EQ(steps["undo_next"], nullptr);
  EXPECT_EQ(steps["redo_next"], steps["steps"][0]["step"]);
  ASSERT_EQ(Call({"redo", session}), 0);
  EXPECT_EQ(partner(), other);
  steps = history();
  EXPECT_EQ(steps["steps"][0]["taken_back"], false);
  EXPECT_EQ(steps["undo_next"], steps["steps"][0]["step"]);
  EXPECT_EQ(steps["redo_next"], nullptr);
  ASSERT_EQ(Call({"history", session}), 0);
  EXPECT_THAT(out_, AllOf(HasSubstr(scan), HasSubstr(other), HasSubstr("UTC"), HasSubstr("undo SESSION")));
  EXPECT_EQ(Call({"redo", session}), 3) << "nothing to bring back";
  ASSERT_EQ(Call({"pair", session, "--refuse", scan, other}), 0);
  EXPECT_NE(partner(), other);
}

TEST_F(ProgramTest, FramesAreSettledKeepStatesAndFollowByRegion) {
  const std::string session = (folder_ / "w.samelight").string();
  ASSERT_EQ(Call({"new", session, "--film", Film().string(), "--digital", Digital().string()}), 0);
  ASSERT_EQ(Call({"match", session, "--follow-sky", "40"}), 0) << err_;
  ASSERT_EQ(Call({"show", session, "--json"}), 0);
  const std::string frame = Answer()["frames"][0]["frame"];
  const auto flags = [&] {
    EXPECT_EQ(Call({"check", session, "--json"}), 0) << err_;
    int named = 0;
    const json answer = Answer();
    for (const json& one : answer["look_at"]) named += one["frame"] == frame;
    return named;
  };
  ASSERT_EQ(Call({"settle", session, frame, "--to-check", "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  EXPECT_EQ(Answer()["settled"], false);
  EXPECT_EQ(flags(), 1);
  ASSERT_EQ(Call({"settle", session, frame}), 0) << err_;
  EXPECT_EQ(flags(), 0);
  ASSERT_EQ(Call({"undo", session}), 0);
  EXPECT_EQ(flags(), 1);
  EXPECT_EQ(Call({"settle", session, "nobody.dng"}), 3);

  ASSERT_EQ(Call({"state", session, frame, "--keep", "soft sky", "--json"}), 0) << err_;
  ExpectDocumented(Answer());
  ASSERT_EQ(Answer()["states"].size(), 1u);
  const std::string kept = Answer()["states"][0]["told"];
  EXPECT_THAT(kept, HasSubstr("sky 40 %"));
  EXPECT_EQ(Answer()["now"], kept);
  ASSERT_EQ(Call({"match", session, "--follow-sky", "whole", "--follow-foliage", "70"}), 0) << err_;
  ASSERT_EQ(Call({"state", session, frame, "--json"}), 0);
  EXPECT_THAT(Answer()["now"].get<std::string>(), HasSubstr("foliage 70 %"));
  EXPECT_THAT(Answer()["now"].get<std::string>(), Not(HasSubstr("sky")));
  ASSERT_EQ(Call({"state", session, frame, "--take-up", "soft sky", "--json"}), 0) << err_;
  EXPECT_EQ(Answer()["now"], kept);
  EXPECT_EQ(Call({"state", session, frame, "--take-up", "another"}), 3);
  ASSERT_EQ(Call({"state", session, frame, "--drop", "soft sky", "--json"}), 0) << err_;
  EXPECT_TRUE(Answer()["states"].empty());
  EXPECT_EQ(Call({"state", session, frame, "--keep", "a", "--drop", "b"}), 2);
  EXPECT_EQ(Call({"match", session, "--follow-sky", "half"}), 2);
  EXPECT_EQ(Call({"match", session, "--follow-sky", "120"}), 2);
}

TEST_F(ProgramTest, EveryWordOfPairOutranksSurvivesAndCanBeTakenBack) {
  const std::string session = (folder_ / "w.samelight").string();
  ASSERT_EQ(Call({"new", session, "--film", Film().string(), "--digital", Digital().string()}), 0);
  ASSERT_EQ(Call({"pair", session}), 0);
  const auto show = [&] {
    EXPECT_EQ(Call({"show", session, "--json"}), 0) << err_;
    return Answer();
  };
  const json before = show();
  const std::string roll = before["rolls"][0]["name"], scan = before["scans"][0]["scan"];
  std::size_t at = 0;  // a light of several frames
  while (at + 1 < before["lights"].size() && before["lights"][at]["frames"].size() < 2) ++at;
  const std::string light = before["lights"][at]["name"];
  const json frames = before["lights"][at]["frames"];
  ASSERT_GE(frames.size(), 2u);
  // Says it, looks whether it holds at once and after pairing again, takes it back, and looks again.
  const auto check = [&](const std::vector<std::string>& words,
                         const std::function<bool(const json&)>& holds) {
    std::vector<std::string> call = {"pair", session};
    call.insert(call.end(), words.begin(), words.end());
    EXPECT_FALSE(holds(before)) << words[0];
    ASSERT_EQ(Call(call), 0) << err_;
    EXPECT_TRUE(holds(show())) << words[0];
    ASSERT_EQ(Call({"pair", session, "--again"}), 0);
    EXPECT_TRUE(holds(show())) << words[0] << " after a re-run";
    ASSERT_EQ(Call({"undo", session}), 0);
    ASSERT_EQ(Call({"pair", session}), 0);
    EXPECT_FALSE(holds(show())) << words[0] << " taken back";
    ASSERT_EQ(Call({"redo", session}), 0);
    ASSERT_EQ(Call({"pair", session}), 0);
    EXPECT_TRUE(holds(show())) << words[0] << " brought back";
    ASSERT_EQ(Call({"undo", session}), 0);
    ASSERT_EQ(Call({"pair", session}), 0);
  };
  check({"--bar", scan}, [](const json& s) { return s["scans"][0]["barred"] == true; });
  check({"--roll", roll, "stock=weir", "push=1", "rating=400", "scan-day=2026-05-30", "black-and-white=yes",
         "expired=yes"},
        [](const json& s) {
          const json& r = s["rolls"][0];
          return r["stock"] == "weir" && r["push"] == 1 && r["rating"] == 400 &&
                 r["scan_day"] == "2026-05-30" && r["black_and_white"] == true && r["expired"] == true;
        });
  check({"--light", light, "name=mill"}, [&](const json& s) { return s["lights"][at]["name"] == "mill"; });
  check({"--light", light, "split=" + frames[1].get<std::string>()}, [&](const json& s) {
    return s["lights"].size() == before["lights"].size() + 1 && s["lights"][at]["frames"].size() == 1;
  });
  if (before["lights"].size() > 1)
    check({"--light", light, "join=" + before["lights"][at == 0 ? 1 : 0]["name"].get<std::string>()},
          [&](const json& s) { return s["lights"].size() == before["lights"].size() - 1; });
  std::string of_roll;  // the second scan of a roll, if one has two
  for (const json& r : before["rolls"])
    if (r["scans"].size() > 1 && of_roll.empty()) {
      of_roll = r["scans"][1];
      check({"--roll", r["name"], "split=" + of_roll},
            [&](const json& s) { return s["rolls"].size() == before["rolls"].size() + 1; });
    }
  if (before["rolls"].size() > 1)
    check({"--roll", roll, "join=" + before["rolls"][1]["name"].get<std::string>()},
          [&](const json& s) { return s["rolls"].size() == before["rolls"].size() - 1; });
}

TEST_F(ProgramTest, SessionsThatLackSomethingAnswerPlainly) {
  const auto steps = [&](const std::string& name, const std::vector<std::string>& input) {
    const std::string session = (folder_ / (name + ".samelight")).string();
    std::vector<std::string> call = {"new", session};
    call.insert(call.end(), input.begin(), input.end());
    EXPECT_EQ(Call(call), 0) << err_;
    return session;
  };
  // No film: every frame has a light, nothing is claimed.
  std::string session = steps("no-film", {"--digital", Digital().string()});
  ASSERT_EQ(Call({"pair", session}), 0) << err_;
  EXPECT_THAT(out_, HasSubstr("no scans"));
  // Only scans: each has no counterpart, and it is said.
  session = steps("only-scans", {"--film", Film().string()});
  ASSERT_EQ(Call({"pair", session}), 0) << err_;
  EXPECT_THAT(out_, HasSubstr("no frames"));
  ASSERT_EQ(Call({"pair", session, "--json"}), 0);
  EXPECT_EQ(Answer()["none"], 3);
  // One scan.
  fs::path one;
  for (const auto& entry : fs::recursive_directory_iterator(Film()))
    if (entry.is_regular_file() && (one.empty() || entry.path() < one)) one = entry.path();
  session = steps("one-scan", {"--film", one.string(), "--digital", Digital().string()});
  ASSERT_EQ(Call({"pair", session, "--json"}), 0) << err_;
  EXPECT_EQ(Answer()["scans"], 1);
  // Film of another event: no pair is forced.
  simulate::SessionOptions options;
  options.seed = 4242;
  options.painted = true;
  options.frame_long_side_px = 400;
  options.lights = 1;
  options.frames = 1;
  options.scans = 2;
  SilentProgress silent;
  ASSERT_TRUE(simulate::WriteSession(folder_ / "other", options, silent, Cancel()).ok());
  session =
      steps("two-events", {"--film", (folder_ / "other" / "film").string(), "--digital", Digital().string()});
  ASSERT_EQ(Call({"pair", session, "--json"}), 0) << err_;
  EXPECT_EQ(Answer()["none"], Answer()["scans"]);
  ASSERT_EQ(Call({"pair", session}), 0);
  EXPECT_THAT(out_, HasSubstr("another event"));
}

TEST(ProgressLinesTest, TheTimeLeftIsToldWhenItIsKnown) {
  EXPECT_EQ(TimeLeft(0.5, 1, 10), "");
  EXPECT_EQ(TimeLeft(5, 0, 10), "");
  EXPECT_EQ(TimeLeft(10, 5, 10), "0:10 left");
  EXPECT_EQ(TimeLeft(60, 10, 100), "9:00 left");
  EXPECT_EQ(TimeLeft(3600, 100, 200), "1:00:00 left");
  EXPECT_EQ(TimeLeft(3, 10, 10), "0:00 left");
}

}  // namespace
}  // namespace samelight::cli
