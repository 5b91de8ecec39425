// A request to stop, shared by the one who asks and all who work.
#pragma once

#include <atomic>
#include <memory>

namespace samelight {

// Copies share one flag. Thread safe; Request() may be called from a signal handler once the token exists.
class Cancel {
 public:
  Cancel() : flag_(std::make_shared<std::atomic<bool>>(false)) {}
  void Request() const { flag_->store(true, std::memory_order_relaxed); }
  bool requested() const { return flag_->load(std::memory_order_relaxed); }

 private:
  std::shared_ptr<std::atomic<bool>> flag_;
};

}  // namespace samelight
