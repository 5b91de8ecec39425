#include "base/file.h"

#include <gtest/gtest.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace samelight {
namespace {

namespace fs = std::filesystem;

class File : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "samelight-file-XXXXXX").string();
    ASSERT_NE(::mkdtemp(pattern.data()), nullptr);
    folder_ = pattern;
  }
  void TearDown() override { fs::remove_all(folder_); }

  int Entries() const {
    return static_cast<int>(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()));
  }
  static std::string Content(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }

  // Exit status of `work` in a process of its own: what it does to its rights and limits touches no other
  // test.
  template <class Work>
  static int InChild(const Work& work) {
    const pid_t child = ::fork();
    if (child == 0) ::_exit(work());
    int status = 0;
    if (child < 0 || ::waitpid(child, &status, 0) != child || !WIFEXITED(status)) return -1;
    return WEXITSTATUS(status);
  }

  fs::path folder_;
};

TEST_F(File, ComesBackAsItWasWritten) {
  std::string text(100'000, '\0');
  for (std::size_t i = 0; i < text.size(); ++i) text[i] = static_cast<char>(i * 31);
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", text).ok());
  const auto bytes = ReadFile(folder_ / "a", text.size());
  ASSERT_TRUE(bytes.ok());
  EXPECT_EQ(std::string(bytes->begin(), bytes->end()), text);
  EXPECT_EQ(Entries(), 1);
}

TEST_F(File, EmptyFilesAreFiles) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", std::string()).ok());
  const auto bytes = ReadFile(folder_ / "a", 10);
  ASSERT_TRUE(bytes.ok());
  EXPECT_TRUE(bytes->empty());
}

TEST_F(File, ReplacesTheOldOneAndCanBeReadByOthers) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", std::string("old")).ok());
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", std::string("new")).ok());
  EXPECT_EQ(Content(folder_ / "a"), "new");
  EXPECT_EQ(Entries(), 1);
  struct stat info {};
  ASSERT_EQ(::stat((folder_ / "a").c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777, 0644u);
}

TEST_F(File, ReadingRefusesWhatIsMissingTooLargeOrNoFile) {
  EXPECT_EQ(ReadFile(folder_ / "a", 10).error().code, ErrorCode::kNotFound);
  EXPECT_EQ(ReadFile(folder_, 10).error().code, ErrorCode::kUnsupported);
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", std::string("12345")).ok());
  EXPECT_TRUE(ReadFile(folder_ / "a", 5).ok());
  const Error error = ReadFile(folder_ / "a", 4).error();
  EXPECT_EQ(error.code, ErrorCode::kTooLarge);
  EXPECT_EQ(error.file, (folder_ / "a").string());
  EXPECT_FALSE(error.todo.empty());
}

TEST_F(File, WritingNeedsTheFolder) {
  EXPECT_EQ(WriteFileWhole(folder_ / "no" / "a", std::string("x")).error().code, ErrorCode::kNotFound);
}

TEST_F(File, RightsAreReported) {
  ASSERT_EQ(::chmod(folder_.c_str(), 0500), 0);
  EXPECT_EQ(InChild([&] {
              if (::geteuid() == 0 && ::setuid(65534) != 0) return 10;  // root may write anywhere
              return static_cast<int>(WriteFileWhole(folder_ / "a", std::string("x")).error().code);
            }),
            static_cast<int>(ErrorCode::kPermission));
  ASSERT_EQ(::chmod(folder_.c_str(), 0700), 0);
}

TEST_F(File, AFailedWriteLeavesTheOldFileAndNothingElse) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", std::string("old")).ok());
  // A limit on the size of files makes write() fail half way through, as a full disk does.
  EXPECT_EQ(InChild([&] {
              ::signal(SIGXFSZ, SIG_IGN);
              const rlimit limit{100'000, 100'000};
              if (::setrlimit(RLIMIT_FSIZE, &limit) != 0) return 10;
              const Status status = WriteFileWhole(folder_ / "a", std::string(1'000'000, 'x'));
              if (status.ok()) return 11;
              return status.error().file == (folder_ / "a").string() ? 0 : 12;
            }),
            0);
  EXPECT_EQ(Content(folder_ / "a"), "old");
  EXPECT_EQ(Entries(), 1);
}

TEST_F(File, AsideThenRevealed) {
  const std::string text = "whole";
  const auto bytes = std::span(reinterpret_cast<const std::uint8_t*>(text.data()), text.size());
  ASSERT_TRUE(WriteFileWhole(folder_ / "a", std::string("old")).ok());
  ASSERT_TRUE(WriteAside(folder_ / "a", bytes).ok());
  EXPECT_EQ(Content(folder_ / "a"), "old");
  EXPECT_EQ(Content(AsideName(folder_ / "a")), "whole");
  ASSERT_TRUE(WriteAside(folder_ / "a", bytes).ok()) << "what a killed run left is written anew";
  ASSERT_TRUE(Reveal(folder_ / "a").ok());
  EXPECT_EQ(Content(folder_ / "a"), "whole");
  EXPECT_EQ(Entries(), 1);
  EXPECT_EQ(Reveal(folder_ / "a").error().code, ErrorCode::kNotFound);
  EXPECT_EQ(Content(folder_ / "a"), "whole");
  const Cancel cancel;
  cancel.Request();
  EXPECT_EQ(WriteAside(folder_ / "a", bytes, cancel).error().code, ErrorCode::kCancelled);
  EXPECT_EQ(ReadFile(folder_ / "a", 10, cancel).error().code, ErrorCode::kCancelled);
  EXPECT_EQ(Entries(), 1);
}

TEST_F(File, AsideNeverFollowsALink) {
  ASSERT_TRUE(WriteFileWhole(folder_ / "original", std::string("old")).ok());
  std::filesystem::create_symlink(folder_ / "original", AsideName(folder_ / "a"));
  ASSERT_TRUE(WriteAside(folder_ / "a", {}).ok());
  EXPECT_EQ(Content(folder_ / "original"), "old");
}

TEST_F(File, FoldersAreMadeWithThoseAbove) {
  for (const char* name : {"a/b/c", "a/b/d/", "a", ""})
    EXPECT_TRUE(MakeFolders(folder_ / name).ok() && fs::is_directory(folder_ / name)) << name;
  std::ofstream(folder_ / "file") << "x";
  const Status refused = MakeFolders(folder_ / "file" / "below");
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.error().code, ErrorCode::kNotFound);
}

TEST(ErrorFromErrno, GroupsWhatThePersonCanDo) {
  const auto code = [](int number) { return ErrorFromErrno(number, "write", "a").code; };
  EXPECT_EQ(code(ENOSPC), ErrorCode::kNoSpace);
  EXPECT_EQ(code(EDQUOT), ErrorCode::kNoSpace);
  EXPECT_EQ(code(EACCES), ErrorCode::kPermission);
  EXPECT_EQ(code(EROFS), ErrorCode::kPermission);
  EXPECT_EQ(code(ENOENT), ErrorCode::kNotFound);
  EXPECT_EQ(code(EIO), ErrorCode::kUnreadable);
  EXPECT_EQ(code(EFBIG), ErrorCode::kTooLarge);
  for (const int number : {ENOSPC, EACCES, ENOENT, EIO})
    EXPECT_FALSE(ErrorFromErrno(number, "write", "a").todo.empty());
}

}  // namespace
}  // namespace samelight
