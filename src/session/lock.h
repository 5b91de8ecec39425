// One writer at a time.
#pragma once

#include <filesystem>
#include <memory>

#include "base/result.h"

namespace samelight::session {

// Held as long as the object lives, and given up by the system when the process dies, however it dies.
class Lock {
 public:
  // Takes the lock `file` (made if needed, removed at the end), without waiting. kBusy when another process,
  // or another Lock of this one, holds it; the message names the process. `what` is what is held ("the
  // session ..."), for the message.
  static Result<std::unique_ptr<Lock>> Take(const std::filesystem::path& file, const std::string& what);
  ~Lock();
  Lock(const Lock&) = delete;
  Lock& operator=(const Lock&) = delete;

 private:
  Lock(std::filesystem::path file, int descriptor) : file_(std::move(file)), descriptor_(descriptor) {}
  std::filesystem::path file_;
  int descriptor_;
};

}  // namespace samelight::session
