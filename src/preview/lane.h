// One worker that always does what was asked last: a new task for a place takes the place of the old one.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>

#include "base/cancel.h"

namespace samelight::preview {

enum class Order { kOldestFirst, kNewestFirst };

// Tasks run one after the other on a thread of the lane's own. Thread safe.
class Lane {
 public:
  using Task = std::function<void(const Cancel&)>;
  explicit Lane(Order order);
  ~Lane();  // drops what waits, asks what runs to stop, and waits for that
  Lane(const Lane&) = delete;
  Lane& operator=(const Lane&) = delete;

  // A waiting task of `key` is dropped, a running one is asked to stop. Tasks that were asked to stop should
  // return soon; what they made must not be used.
  void Post(std::int64_t key, Task task);
  // Unless one of this key waits or runs already.
  void PostOnce(std::int64_t key, Task task);
  void Drop(std::int64_t key);
  void DropAll();
  // Waits until nothing waits or runs.
  void Wait();
  // Drops what waits, asks what runs to stop and waits for that; what is posted afterwards is dropped.
  void Close();

 private:
  struct Waiting {
    std::int64_t key;
    Task task;
    Cancel cancel;
  };
  void Work();
  void DropLocked(std::int64_t key);
  const Order order_;
  std::mutex mutex_;
  std::condition_variable come_, idle_;
  std::deque<Waiting> waiting_;
  std::optional<std::int64_t> running_;
  Cancel running_cancel_;
  bool closing_ = false;
  std::thread thread_;
};

}  // namespace samelight::preview
