#include "session/lock.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <string>

#include <fmt/format.h>

#include "base/file.h"

namespace samelight::session {

Result<std::unique_ptr<Lock>> Lock::Take(const std::filesystem::path& file, const std::string& what) {
  while (true) {
    const int fd = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (fd < 0) return ErrorFromErrno(errno, "write", file);
    if (::flock(fd, LOCK_EX | LOCK_NB) != 0) {
      const int error_number = errno;
      char holder[32] = {};
      const ssize_t got = ::pread(fd, holder, sizeof holder - 1, 0);
      ::close(fd);
      if (error_number != EWOULDBLOCK) return ErrorFromErrno(error_number, "lock", file);
      return Error{ErrorCode::kBusy,
                   fmt::format("{} is in use by another samelight{}", what,
                               got > 0 ? fmt::format(" (process {})", holder) : std::string()),
                   "", "wait for it to end, or stop it, then run the same command again"};
    }
    // The one who held it may have removed the name between our open and our lock; then this is not the lock
    // any more.
    struct stat ours {
    }, named{};
    if (::fstat(fd, &ours) == 0 && ::stat(file.c_str(), &named) == 0 && ours.st_ino == named.st_ino &&
        ours.st_dev == named.st_dev) {
      const std::string id = std::to_string(::getpid());
      if (::ftruncate(fd, 0) != 0 || ::pwrite(fd, id.data(), id.size(), 0) < 0) {
        // Only the message to others would lack the number.
      }
      return std::unique_ptr<Lock>(new Lock(file, fd));
    }
    ::close(fd);
  }
}

Lock::~Lock() {
  ::unlink(file_.c_str());
  ::close(descriptor_);
}

}  // namespace samelight::session
