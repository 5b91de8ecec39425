#include "preview/lane.h"

#include <algorithm>

namespace samelight::preview {

Lane::Lane(Order order) : order_(order), thread_([this] { Work(); }) {}

Lane::~Lane() { Close(); }

void Lane::Close() {
  {
    const std::lock_guard lock(mutex_);
    closing_ = true;
    waiting_.clear();
    running_cancel_.Request();
  }
  come_.notify_all();
  if (thread_.joinable()) thread_.join();
}

void Lane::DropLocked(std::int64_t key) {
  std::erase_if(waiting_, [key](const Waiting& w) { return w.key == key; });
  if (running_ == key) running_cancel_.Request();
}

void Lane::Post(std::int64_t key, Task task) {
  {
    const std::lock_guard lock(mutex_);
    if (closing_) return;
    DropLocked(key);
    waiting_.push_back({key, std::move(task), Cancel()});
  }
  come_.notify_one();
}

void Lane::PostOnce(std::int64_t key, Task task) {
  {
    const std::lock_guard lock(mutex_);
    const bool waits =
        std::any_of(waiting_.begin(), waiting_.end(), [key](const Waiting& w) { return w.key == key; });
    if (closing_ || waits || (running_ == key && !running_cancel_.requested())) return;
    waiting_.push_back({key, std::move(task), Cancel()});
  }
  come_.notify_one();
}

void Lane::Drop(std::int64_t key) {
  const std::lock_guard lock(mutex_);
  DropLocked(key);
}

void Lane::DropAll() {
  const std::lock_guard lock(mutex_);
  waiting_.clear();
  if (running_) running_cancel_.Request();
}

void Lane::Wait() {
  std::unique_lock lock(mutex_);
  idle_.wait(lock, [this] { return waiting_.empty() && !running_; });
}

void Lane::Work() {
  std::unique_lock lock(mutex_);
  while (true) {
    come_.wait(lock, [this] { return closing_ || !waiting_.empty(); });
    if (closing_) return;
    Waiting next;
    if (order_ == Order::kOldestFirst) {
      next = std::move(waiting_.front());
      waiting_.pop_front();
    } else {
      next = std::move(waiting_.back());
      waiting_.pop_back();
    }
    running_ = next.key;
    running_cancel_ = next.cancel;
    lock.unlock();
    next.task(next.cancel);
    next.task = nullptr;  // what it holds goes away before Wait() returns
    lock.lock();
    running_.reset();
    idle_.notify_all();
  }
}

}  // namespace samelight::preview
