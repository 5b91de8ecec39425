// What a delivery survives. Faults of the system are made by standing between the program and the C library:
// the functions below replace the library's for this program, look at the path of the file, and do as a full
// disk, a broken card or a read-only stick does. They work the same for root, in a container or not.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <signal.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <chrono>
#include <cstdarg>
#include <cstdio>
#include <functional>
#include <mutex>
#include <random>
#include <set>
#include <thread>

#include "base/task_pool.h"
#include "job/delivery_testing.h"
#include "session/lock.h"

namespace {

// 0, or the errno that the call fails with. Asked only while a test sets it.
using Fault = std::function<int(const std::string& call, const std::string& path)>;
Fault* g_fault = nullptr;  // set and unset while no work runs
std::mutex g_mutex;

std::string PathOf(int fd) {
  char name[64], path[4096];
  std::snprintf(name, sizeof name, "/proc/self/fd/%d", fd);
  const ssize_t size = ::readlink(name, path, sizeof path);
  return size < 0 ? std::string() : std::string(path, static_cast<std::size_t>(size));
}

bool Fails(const char* call, const std::string& path) {
  if (g_fault == nullptr) return false;
  const std::lock_guard lock(g_mutex);
  const int error = (*g_fault)(call, path);
  if (error != 0) errno = error;
  return error != 0;
}

}  // namespace

extern "C" {
ssize_t write(int fd, const void* data, size_t size) {
  if (g_fault != nullptr && Fails("write", PathOf(fd))) return -1;
  return ::syscall(SYS_write, fd, data, size);
}
ssize_t read(int fd, void* data, size_t size) {
  if (g_fault != nullptr && Fails("read", PathOf(fd))) return -1;
  return ::syscall(SYS_read, fd, data, size);
}
int fsync(int fd) {
  if (g_fault != nullptr && Fails("fsync", PathOf(fd))) return -1;
  return static_cast<int>(::syscall(SYS_fsync, fd));
}
int rename(const char* from, const char* to) noexcept {
  if (g_fault != nullptr && Fails("rename", to)) return -1;
  return static_cast<int>(::syscall(SYS_rename, from, to));
}
int open(const char* path, int flags, ...) {
  mode_t mode = 0;
  if ((flags & O_CREAT) != 0) {
    va_list list;
    va_start(list, flags);
    mode = va_arg(list, mode_t);
    va_end(list);
  }
  if (g_fault != nullptr && Fails((flags & O_ACCMODE) == O_RDONLY ? "open" : "open to write", path))
    return -1;
  return static_cast<int>(::syscall(SYS_openat, AT_FDCWD, path, flags, mode));
}
}

namespace samelight::job {
namespace {

using ::testing::AllOf;
using testing::BytesOf;
using testing::DeliveryTest;
using testing::FilesBelow;
using ::testing::HasSubstr;

using Files = std::map<std::string, std::vector<std::uint8_t>>;

class SurvivalTest : public DeliveryTest {
 protected:
  void TearDown() override {
    g_fault = nullptr;
    SetWorkers(0);
    DeliveryTest::TearDown();
  }
  // Delivers under a fault.
  Result<DeliverAnswer> Under(Fault fault, const DeliverOptions& options = {}) {
    g_fault = &fault;
    Result<DeliverAnswer> answer = Deliver(options);
    g_fault = nullptr;
    return answer;
  }
  bool IsOurs(const std::string& path) const { return path.find((out() / "").string()) == 0; }
  static Files Whole(const Files& files) {
    Files whole = files;
    std::erase_if(whole, [](const auto& entry) { return entry.first.find('/') != std::string::npos; });
    return whole;
  }
  std::map<std::string, ino_t> Inodes() const {
    std::map<std::string, ino_t> inodes;
    for (const auto& [name, bytes] : FilesBelow(out())) {
      struct stat info {};
      ::stat((out() / name).c_str(), &info);
      inodes[name] = info.st_ino;
    }
    return inodes;
  }
  // What lies in the output folder beside delivered files: only the lock.
  std::set<std::string> Hidden() const {
    std::set<std::string> names;
    for (const auto& entry : fs::directory_iterator(out()))
      if (entry.path().filename().string().front() == '.') names.insert(entry.path().filename().string());
    names.erase(".samelight-deliver.lock");
    return names;
  }
  // The whole delivery, as a measure for what comes out after a fault.
  Files Reference() {
    const auto answer = Deliver();
    EXPECT_TRUE(answer.ok() && answer->problems.empty());
    Files files = FilesBelow(out());
    fs::remove_all(out());
    return files;
  }
  void EndsAs(const Files& reference) {
    const auto answer = Deliver();
    ASSERT_TRUE(answer.ok()) << answer.error().Text();
    EXPECT_TRUE(answer->problems.empty());
    EXPECT_EQ(FilesBelow(out()), reference);
    EXPECT_THAT(Hidden(), ::testing::IsEmpty());
  }
  // The same delivery in a process of its own, which may be killed.
  pid_t Start() const {
    const pid_t child = ::fork();
    if (child != 0) return child;
    ::setenv("SAMELIGHT_TEST_FOLDER", folder_.c_str(), 1);
    const int nothing = ::open("/dev/null", O_WRONLY);
    ::dup2(nothing, 1);
    ::dup2(nothing, 2);
    ::execl("/proc/self/exe", "job_test", "--gtest_filter=DeliveryChild.DISABLED_Delivers",
            "--gtest_also_run_disabled_tests", nullptr);
    ::_exit(127);
  }
};

// Only run by Start().
class DeliveryChild : public DeliveryTest {
  void SetUp() override {}
  void TearDown() override {}
};
TEST_F(DeliveryChild, DISABLED_Delivers) {
  const char* folder = std::getenv("SAMELIGHT_TEST_FOLDER");
  if (folder == nullptr) GTEST_SKIP() << "part of another test";
  folder_ = folder;
  ASSERT_TRUE(Deliver().ok());
}

TEST_F(SurvivalTest, KilledAtTwentyMomentsTheFilesAreTheSameAndNoneIsMadeTwice) {
  Make(10, 4);
  const Files reference = Reference();
  ASSERT_EQ(reference.size(), 10u);
  const auto begun = std::chrono::steady_clock::now();
  int status = 0;
  ::waitpid(Start(), &status, 0);
  ASSERT_EQ(status, 0);
  ASSERT_EQ(FilesBelow(out()), reference) << "the child does the same work";
  const double whole_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  std::mt19937 dice(20);
  int killed = 0, partly = 0;
  for (int i = 0; i < 20; ++i) {
    fs::remove_all(out());
    const pid_t child = Start();
    std::this_thread::sleep_for(
        std::chrono::duration<double>(whole_s * (0.1 + 0.9 * static_cast<double>(dice()) / 4294967296.0)));
    ::kill(child, SIGKILL);
    ::waitpid(child, &status, 0);
    killed += WIFSIGNALED(status);
    const Files files = FilesBelow(out());
    partly += !files.empty() && files.size() < reference.size();
    for (const auto& [name, bytes] : files)
      EXPECT_EQ(bytes, reference.at(name)) << "a file appears whole: " << name;
    const auto before = Inodes();
    EndsAs(reference);
    const auto after = Inodes();
    for (const auto& [name, inode] : before) EXPECT_EQ(after.at(name), inode) << name << " was made again";
  }
  EXPECT_GE(killed, 10) << "most moments lie within the work";
  EXPECT_GE(partly, 2) << "some lie between the first file and the last";
}

TEST_F(SurvivalTest, AFileThatOnlyWaitedForItsNameGetsIt) {
  Make(3, 0);
  const Files reference = Reference();
  // The process dies when the second file is whole and accounted for, but not yet under its name.
  int seen = 0;
  auto answer = Under([&](const std::string& call, const std::string& path) {
    return call == "rename" && IsOurs(path) && ++seen > 1 ? EIO : 0;
  });
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->written, 1);
  EXPECT_EQ(answer->problems.size(), 2u);
  fs::remove_all(out());
  // As a kill leaves it: whole files aside, with and without an account that says so.
  ASSERT_TRUE(Deliver().ok());
  const auto session = Open();
  auto deliveries = *session->Deliveries();
  fs::rename(out() / "P1.jpg", AsideName(out() / "P1.jpg"));
  fs::rename(out() / "P2.jpg", AsideName(out() / "P2.jpg"));
  auto change = session->Begin();
  for (session::Delivery& delivery : deliveries)
    if (delivery.output == "out/P2.jpg") {
      delivery.done = false;
      ASSERT_TRUE(change->Put(delivery).ok());
    }
  ASSERT_TRUE(change->Commit().ok());
  const_cast<std::unique_ptr<session::Session>&>(session).reset();
  answer = Deliver();
  EXPECT_EQ(answer->written, 1) << "P2 has no account of being whole";
  EXPECT_EQ(answer->kept, 2);
  EXPECT_EQ(FilesBelow(out()), reference);
  EXPECT_THAT(Hidden(), ::testing::IsEmpty());
}

TEST_F(SurvivalTest, AFullDiskIsSaidOnceAndTheWorkGoesOnFromThere) {
  Make(6, 0);
  const Files reference = Reference();
  SetWorkers(1);
  int files = 0;
  const auto answer = Under([&](const std::string& call, const std::string& path) {
    if (!IsOurs(path) || path.find(".part") == std::string::npos) return 0;
    if (call == "open to write") ++files;
    return call == "write" && files > 2 ? ENOSPC : 0;
  });
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_EQ(answer->written, 2);
  ASSERT_EQ(answer->problems.size(), 2u) << "the file that met it, and what it means";
  EXPECT_THAT(answer->problems[0].why, HasSubstr("No space left"));
  EXPECT_THAT(answer->problems[1].why, HasSubstr("the disk is full; 2 of 6 files"));
  EXPECT_THAT(answer->problems[1].todo, HasSubstr("same command again"));
  EXPECT_THAT(Hidden(), ::testing::IsEmpty()) << "half a file is taken away";
  EndsAs(reference);
}

TEST_F(SurvivalTest, ARealFullDiskToo) {
  Make(4, 0);
  const Files reference = Reference();
  fs::create_directories(out());
  const std::string mount = "mount -t tmpfs -o size=16k none '" + out().string() + "' 2>/dev/null";
  if (std::system(mount.c_str()) != 0) GTEST_SKIP() << "a small file system cannot be mounted here";
  const auto answer = Deliver();
  const Files files = FilesBelow(out());
  ASSERT_EQ(std::system(("umount '" + out().string() + "'").c_str()), 0);
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_LT(answer->written, 4);
  EXPECT_THAT(answer->problems.back().why, HasSubstr("the disk is full"));
  for (const auto& [name, bytes] : files) EXPECT_EQ(bytes, reference.at(name));
  EndsAs(reference);
}

TEST_F(SurvivalTest, AReadOnlyOutputIsNamed) {
  Make(2, 0);
  const auto answer = Under([&](const std::string& call, const std::string& path) {
    return call == "open to write" && IsOurs(path) && path.find("lock") == std::string::npos ? EROFS : 0;
  });
  ASSERT_TRUE(answer.ok());
  ASSERT_EQ(answer->problems.size(), 2u);
  EXPECT_THAT(answer->problems[0].why, HasSubstr("Read-only file system"));
  EXPECT_THAT(answer->problems[0].todo, HasSubstr("rights"));
  EXPECT_THAT(answer->problems[0].file, HasSubstr("out/P"));
}

TEST_F(SurvivalTest, RightsThatAreMissingAreNamed) {
  Make(2, 0);
  ASSERT_TRUE(Deliver().ok());
  const bool root = ::geteuid() == 0;
  if (root) {  // root may write anywhere: be somebody else for a while
    for (const auto& entry : fs::recursive_directory_iterator(folder_))
      ASSERT_EQ(::chown(entry.path().c_str(), 65534, 65534), 0);
    ASSERT_EQ(::chown(folder_.c_str(), 65534, 65534), 0);
    if (::seteuid(65534) != 0) GTEST_SKIP() << "root cannot become another user here";
  }
  DeliverOptions again;
  again.again = true;
  fs::permissions(out(), fs::perms::owner_read | fs::perms::owner_exec);
  const auto refused = Deliver(again);
  fs::permissions(out(), fs::perms::owner_all);
  fs::permissions(FrameFile(1), fs::perms::none);
  const auto unreadable = Deliver(again);
  fs::permissions(FrameFile(1), fs::perms::owner_read);
  if (root) ASSERT_EQ(::seteuid(0), 0);
  ASSERT_FALSE(refused.ok()) << "nothing can be written there";
  EXPECT_EQ(refused.error().code, ErrorCode::kPermission);
  EXPECT_THAT(refused.error().Text(),
              AllOf(HasSubstr("Permission denied"), HasSubstr("out"), HasSubstr("rights")));
  ASSERT_TRUE(unreadable.ok()) << unreadable.error().Text();
  ASSERT_EQ(unreadable->problems.size(), 1u);
  EXPECT_THAT(unreadable->problems[0].file, HasSubstr("P1.jpg"));
  EXPECT_EQ(unreadable->written, 1) << "the other one is delivered";
}

// Takes something away when so many files are delivered.
class Disturber final : public Progress {
 public:
  Disturber(int after, std::function<void()> act) : after_(after), act_(std::move(act)) {}
  void Begin(const std::string& name, long) override { counts_ = name == "delivering"; }
  void Advance(long) override {
    if (counts_ && ++done_ == after_) act_();
  }
  void End() override {}

 private:
  bool counts_ = false;
  int done_ = 0, after_;
  std::function<void()> act_;
};

TEST_F(SurvivalTest, AnOutputThatVanishesAndACardThatIsPulled) {
  Make(6, 0);
  const Files reference = Reference();
  SetWorkers(1);
  const auto deliver = [&](std::function<void()> act) {
    const auto session = Open();
    Disturber disturber(2, std::move(act));
    return DeliverOrders(*session, out(), {record::Order{}}, {}, {disturber, Cancel()});
  };
  auto answer = deliver([&] { fs::rename(out(), folder_ / "gone"); });
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_EQ(answer->written, 2);
  ASSERT_EQ(answer->problems.size(), 4u);
  EXPECT_THAT(answer->problems[0].why, HasSubstr("No such file"));
  EXPECT_THAT(answer->problems[0].todo, HasSubstr("connected"));
  EndsAs(reference);
  fs::remove_all(out());
  answer = deliver([&] { fs::rename(folder_ / "digital", folder_ / "pulled"); });
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_EQ(answer->written, 2);
  EXPECT_EQ(answer->problems.size(), 4u);
  for (const Problem& problem : answer->problems) EXPECT_THAT(problem.file, HasSubstr("digital/P"));
  fs::rename(folder_ / "pulled", folder_ / "digital");
  EndsAs(reference);
}

TEST_F(SurvivalTest, ABrokenCardCostsOnlyItsFile) {
  Make(3, 0);
  const Files reference = Reference();
  const auto answer = Under([&](const std::string& call, const std::string& path) {
    return call == "read" && path == FrameFile(2) ? EIO : 0;
  });
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->written, 2);
  ASSERT_EQ(answer->problems.size(), 1u);
  EXPECT_THAT(answer->problems[0].file, HasSubstr("P2.jpg"));
  EXPECT_THAT(answer->problems[0].why, HasSubstr("Input/output error"));
  EndsAs(reference);
}

TEST_F(SurvivalTest, AFrameThatChangedSinceTheSolveIsNamed) {
  Make(3, 1);
  WriteJpeg(FrameFile(2), 96, 64, 77);
  WriteJpeg(ScanFile(1), 96, 64, 78);
  DeliverOptions options;
  options.fields = {{"pictures", "both"}, {"grain", "off"}};
  const auto answer = Deliver(options);
  ASSERT_TRUE(answer.ok());
  EXPECT_EQ(answer->written, 2);
  ASSERT_EQ(answer->problems.size(), 2u);
  for (const Problem& problem : answer->problems) {
    EXPECT_THAT(problem.why, HasSubstr("changed after"));
    EXPECT_THAT(problem.todo, HasSubstr("samelight new"));
  }
}

TEST_F(SurvivalTest, TwoRunsIntoOneFolder) {
  Make(1, 0);
  fs::create_directories(out());
  auto lock = session::Lock::Take(out() / ".samelight-deliver.lock", "the output folder");
  ASSERT_TRUE(lock.ok());
  const auto answer = Deliver();
  ASSERT_FALSE(answer.ok());
  EXPECT_EQ(answer.error().code, ErrorCode::kBusy);
  EXPECT_THAT(answer.error().Text(), AllOf(HasSubstr("in use"), HasSubstr("out")));
}

TEST_F(SurvivalTest, OneWorkerOrManyAgainOrNot) {
  Make(5, 5);
  SetWorkers(1);
  const Files one = Reference();
  SetWorkers(5);
  EndsAs(one);
  const auto before = Inodes();
  EXPECT_EQ(Deliver()->kept, 5);
  EXPECT_EQ(Inodes(), before);
  DeliverOptions again;
  again.again = true;
  EXPECT_EQ(Deliver(again)->written, 5);
  EXPECT_EQ(FilesBelow(out()), one);
  for (const auto& [name, inode] : Inodes()) EXPECT_NE(inode, before.at(name)) << name;
}

TEST_F(SurvivalTest, FilesAreSyncedThenNamedThenTheirFolderIsSynced) {
  Make(2, 0);
  SetWorkers(1);
  std::vector<std::string> calls;
  ASSERT_TRUE(Under([&](const std::string& call, const std::string& path) {
                if (path == out() || (IsOurs(path) && path.find("lock") == std::string::npos))
                  if (call != "read")
                    calls.push_back(call + " " + fs::path(path).lexically_relative(out()).string());
                return 0;
              }).ok());
  std::erase(calls, "open .");  // a folder is opened to be synced
  EXPECT_THAT(calls,
              ::testing::ElementsAre("open to write .P1.jpg.part", "write .P1.jpg.part", "fsync .P1.jpg.part",
                                     "rename P1.jpg", "fsync .", "open to write .P2.jpg.part",
                                     "write .P2.jpg.part", "fsync .P2.jpg.part", "rename P2.jpg", "fsync ."));
}

// A file that is safe in a folder that is not is lost with it.
TEST_F(SurvivalTest, NewFoldersAreSyncedIntoTheirsBeforeAFileIsWritten) {
  Make(2, 0);
  SetWorkers(1);
  std::vector<std::string> calls;
  Fault watch = [&](const std::string& call, const std::string& path) {
    if (path == out() || IsOurs(path))
      if (call == "fsync" || (call == "open to write" && path.ends_with(".part")))
        calls.push_back(call + " " + fs::path(path).lexically_relative(out()).string());
    return 0;
  };
  DeliverOptions options;
  options.fields = {{"folders", "light"}};
  g_fault = &watch;
  const auto answer = Deliver(options, "web/large");
  g_fault = nullptr;
  ASSERT_TRUE(answer.ok() && answer->written == 2);
  ASSERT_GE(calls.size(), 5u);
  calls.resize(5);
  EXPECT_THAT(calls, ::testing::ElementsAre("fsync .", "fsync web", "fsync web/large", "fsync web/large",
                                            "open to write web/large/mill/.P1.jpg.part"));
}

// Nothing opens an original to write, not even without writing: the kernel tells of every such file when it
// is closed (inotify(7), IN_CLOSE_WRITE). On read-only files and folders, as somebody who is not root.
TEST_F(SurvivalTest, OriginalsAreOpenedToReadOnly) {
  Make(2, 2);
  const Files digital = FilesBelow(folder_ / "digital"), film = FilesBelow(folder_ / "film");
  std::map<std::string, fs::file_time_type> times;
  for (const auto& entry : fs::recursive_directory_iterator(folder_ / "digital"))
    times[entry.path()] = entry.last_write_time();
  const int watch = ::inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
  ASSERT_GE(watch, 0);
  for (const fs::path& watched : {folder_ / "digital", folder_ / "film" / "roll 1"})
    ASSERT_GE(::inotify_add_watch(watch, watched.c_str(),
                                  IN_CLOSE_WRITE | IN_MODIFY | IN_ATTRIB | IN_CREATE | IN_DELETE | IN_MOVE),
              0);
  const bool root = ::geteuid() == 0;
  if (root)
    for (const auto& entry : fs::recursive_directory_iterator(folder_))
      if (entry.path().string().find("wedding") != std::string::npos)
        ASSERT_EQ(::chown(entry.path().c_str(), 65534, 65534), 0);
  if (root) {
    ASSERT_EQ(::chown(folder_.c_str(), 65534, 65534), 0);
    if (::seteuid(65534) != 0) GTEST_SKIP() << "root cannot become another user here";
  }
  char events[4096];
  while (::read(watch, events, sizeof events) > 0) {
  }
  if (!root)
    for (const fs::path& each : {folder_ / "digital", folder_ / "film" / "roll 1"})
      fs::permissions(each, fs::perms::owner_read | fs::perms::owner_exec);
  while (::read(watch, events, sizeof events) > 0) {
  }
  DeliverOptions options;
  options.fields = {{"pictures", "both"}};
  const auto answer = Deliver(options);
  if (root) ASSERT_EQ(::seteuid(0), 0);
  ASSERT_TRUE(answer.ok()) << answer.error().Text();
  EXPECT_EQ(answer->written, 4);
  EXPECT_LT(::read(watch, events, sizeof events), 0) << "something opened an original to write";
  ::close(watch);
  EXPECT_EQ(FilesBelow(folder_ / "digital"), digital);
  EXPECT_EQ(FilesBelow(folder_ / "film"), film);
  for (const auto& [path, time] : times) EXPECT_EQ(fs::last_write_time(path), time);
}

// At random moments of the work on pictures of 6 megapixels, decoding included.
TEST_F(SurvivalTest, StopsWithinHalfASecond) {
  Make(2, 0, 3000, 2000);
  std::mt19937 dice(3);
  double worst_s = 0;
  int stopped = 0;
  // The moments are taken from the time that the whole work takes on this machine.
  using Clock = std::chrono::steady_clock;
  const auto started = Clock::now();
  ASSERT_TRUE(Deliver().ok());
  const auto whole_us = std::chrono::duration_cast<std::chrono::microseconds>(Clock::now() - started).count();
  for (int i = 0; i < 8; ++i) {
    fs::remove_all(out());
    const Cancel cancel;
    Clock::time_point asked;
    std::thread stopper([&] {
      std::this_thread::sleep_for(std::chrono::microseconds(dice() % (whole_us * 8 / 10)));
      asked = Clock::now();
      cancel.Request();
    });
    const auto answer = Deliver({}, "", cancel);
    const auto ended = Clock::now();
    stopper.join();
    if (answer.ok()) continue;
    ++stopped;
    EXPECT_EQ(answer.error().code, ErrorCode::kCancelled);
    worst_s = std::max(worst_s, std::chrono::duration<double>(ended - asked).count());
    EXPECT_THAT(Hidden(), ::testing::IsEmpty());
  }
  EXPECT_GE(stopped, 4);
  EXPECT_LT(worst_s, 0.5);
}

}  // namespace
}  // namespace samelight::job
