#include "base/file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>

#include <fmt/format.h>

namespace samelight {
namespace {

// Bytes moved between two looks at whether to stop: within 500 ms on a card of 10 MB/s.
constexpr std::uint64_t kChunk = 4u << 20;

// Closes a descriptor when it goes out of scope.
class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return fd_; }
  int Close() {
    const int r = ::close(fd_);
    fd_ = -1;
    return r;
  }

 private:
  int fd_;
};

}  // namespace

Error ErrorFromErrno(int error_number, const std::string& doing, const std::filesystem::path& path) {
  Error e;
  e.file = path.string();
  e.what = fmt::format("could not {}: {}", doing, std::strerror(error_number));
  switch (error_number) {
    case ENOENT:
    case ENOTDIR:
      e.code = ErrorCode::kNotFound;
      e.todo = "check that it is still there and that the card or disk is connected";
      break;
    case EACCES:
    case EPERM:
    case EROFS:
      e.code = ErrorCode::kPermission;
      e.todo = "check the rights of the file and its folder";
      break;
    case ENOSPC:
    case EDQUOT:
      e.code = ErrorCode::kNoSpace;
      e.todo = "free some space, then run the same command again";
      break;
    case EFBIG:
      e.code = ErrorCode::kTooLarge;
      e.todo = "this disk does not take files of that size: name a folder on another one";
      break;
    default:
      e.code = ErrorCode::kUnreadable;
      e.todo = "check the disk or card, then try again";
  }
  return e;
}

Result<std::vector<std::uint8_t>> ReadFile(const std::filesystem::path& path, std::uint64_t most_bytes,
                                           const Cancel& cancel) {
  return ReadFileHead(path, most_bytes, most_bytes, cancel);
}

Result<std::vector<std::uint8_t>> ReadFileHead(const std::filesystem::path& path, std::uint64_t most_bytes,
                                               std::uint64_t head_bytes, const Cancel& cancel) {
  Descriptor fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (fd.get() < 0) return ErrorFromErrno(errno, "open", path);
  struct stat info {};
  if (::fstat(fd.get(), &info) != 0) return ErrorFromErrno(errno, "look at", path);
  if (!S_ISREG(info.st_mode))
    return Error{ErrorCode::kUnsupported, "not a regular file", path.string(), "name a picture file"};
  auto size = static_cast<std::uint64_t>(info.st_size);
  if (size > most_bytes)
    return Error{ErrorCode::kTooLarge,
                 fmt::format("the file has {} bytes, more than the limit of {}", size, most_bytes),
                 path.string(), "leave it out, or make a smaller copy"};
  size = std::min(size, head_bytes);
  // Made longer part by part: zeroing all of a large file at once could not be stopped.
  std::vector<std::uint8_t> bytes;
  bytes.reserve(size);
  std::uint64_t done = 0;
  while (done < size) {
    if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", path.string(), ""};
    bytes.resize(done + std::min(size - done, kChunk));
    const ssize_t got = ::read(fd.get(), bytes.data() + done, bytes.size() - done);
    if (got < 0) {
      if (errno == EINTR) continue;
      return ErrorFromErrno(errno, "read", path);
    }
    if (got == 0)
      return Error{ErrorCode::kUnreadable, "the file became shorter while it was read", path.string(),
                   "check the disk or card, then try again"};
    done += static_cast<std::uint64_t>(got);
  }
  return bytes;
}

namespace {

std::filesystem::path FolderOf(const std::filesystem::path& path) {
  return path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
}

// Writes, syncs and closes `fd`, which is open under `name`; errors are told of `path`, and `name` is
// removed.
Status Fill(Descriptor& fd, const std::string& name, const std::filesystem::path& path,
            std::span<const std::uint8_t> bytes, const Cancel& cancel) {
  const auto fail = [&]() -> Status {
    const int error_number = errno;
    ::unlink(name.c_str());
    return ErrorFromErrno(error_number, "write", path);
  };
  std::size_t done = 0;
  while (done < bytes.size()) {
    if (cancel.requested()) {
      ::unlink(name.c_str());
      return Error{ErrorCode::kCancelled, "stopped", path.string(), ""};
    }
    const ssize_t put =
        ::write(fd.get(), bytes.data() + done, std::min<std::size_t>(bytes.size() - done, kChunk));
    if (put < 0) {
      if (errno == EINTR) continue;
      return fail();
    }
    done += static_cast<std::size_t>(put);
  }
  ::fchmod(fd.get(), 0644);
  if (::fsync(fd.get()) != 0) return fail();
  if (fd.Close() != 0) return fail();
  return {};
}

// Makes the names in it last when the power fails. Not every file system can.
void SyncFolder(const std::filesystem::path& folder) {
  Descriptor fd(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (fd.get() >= 0) ::fsync(fd.get());
}

Status RenameOver(const std::string& name, const std::filesystem::path& path) {
  if (::rename(name.c_str(), path.c_str()) != 0) {
    const int error_number = errno;
    ::unlink(name.c_str());
    return ErrorFromErrno(error_number, "rename", path);
  }
  SyncFolder(FolderOf(path));
  return {};
}

}  // namespace

Status MakeFolders(const std::filesystem::path& folder) {
  if (!folder.has_filename() && folder.has_relative_path())
    return MakeFolders(folder.parent_path());  // "out/"
  std::error_code ec;
  const std::filesystem::path above = FolderOf(folder);
  if (std::filesystem::is_directory(folder, ec)) return {};
  if (above != folder && !std::filesystem::is_directory(above, ec))
    if (Status made = MakeFolders(above); !made.ok()) return made;
  if (::mkdir(folder.c_str(), 0777) != 0 && errno != EEXIST) return ErrorFromErrno(errno, "make", folder);
  SyncFolder(above);
  return {};
}

Status WriteFileWhole(const std::filesystem::path& path, std::span<const std::uint8_t> bytes) {
  std::string name = (FolderOf(path) / fmt::format(".{}.XXXXXX", path.filename().string())).string();
  Descriptor fd(::mkostemp(name.data(), O_CLOEXEC));
  if (fd.get() < 0) return ErrorFromErrno(errno, "write", path);
  Status filled = Fill(fd, name, path, bytes, {});
  return filled.ok() ? RenameOver(name, path) : filled;
}

std::filesystem::path AsideName(const std::filesystem::path& path) {
  return FolderOf(path) / fmt::format(".{}.part", path.filename().string());
}

Status WriteAside(const std::filesystem::path& path, std::span<const std::uint8_t> bytes,
                  const Cancel& cancel) {
  const std::string name = AsideName(path).string();
  ::unlink(name.c_str());  // what a killed run left; never opened, in case it is a link
  Descriptor fd(::open(name.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644));
  if (fd.get() < 0) return ErrorFromErrno(errno, "write", path);
  return Fill(fd, name, path, bytes, cancel);
}

Status Reveal(const std::filesystem::path& path) { return RenameOver(AsideName(path).string(), path); }

Status WriteFileWhole(const std::filesystem::path& path, const std::string& text) {
  return WriteFileWhole(path, std::span(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
}

}  // namespace samelight
