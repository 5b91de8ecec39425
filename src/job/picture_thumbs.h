// Thumbnails of a session: from the pack beside its other caches, made where they are not there yet.
#pragma once

#include <condition_variable>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "job/pictures.h"
#include "preview/corrected.h"
#include "preview/screen.h"
#include "preview/thumb_store.h"

namespace samelight::job {

// Works on a thread of its own. Thread safe.
class PictureThumbs {
 public:
  using Thumb = Pictures::Thumb;
  explicit PictureThumbs(std::function<void()> wake);
  ~PictureThumbs();
  PictureThumbs(const PictureThumbs&) = delete;
  PictureThumbs& operator=(const PictureThumbs&) = delete;

  void SetBook(std::shared_ptr<const Book> book);
  void SetMonitor(std::shared_ptr<const preview::Monitor> monitor);
  void Want(std::vector<Thumb> wanted);
  std::shared_ptr<const preview::Shown> Get(const Thumb& thumb) const;
  std::vector<Thumb> New();

 private:
  struct Made {
    std::string key;  // of what it shows
    std::shared_ptr<const preview::Shown> shown;
    std::uint64_t used = 0;
  };
  void Work();
  std::shared_ptr<const preview::Shown> Make(const Book& book, const Thumb& thumb, const std::string& key,
                                             preview::ThumbStore& store, const preview::Monitor& monitor);
  void Evict();
  const std::function<void()> wake_;
  preview::Corrected corrected_;  // the worker's
  mutable std::mutex mutex_;
  std::condition_variable come_;
  bool closing_ = false;
  std::uint64_t turn_ = 0;  // raised when there is something to look at again
  std::shared_ptr<const Book> book_;
  std::shared_ptr<const preview::Monitor> monitor_ = std::make_shared<const preview::Monitor>();
  std::shared_ptr<preview::ThumbStore> store_;
  std::vector<Thumb> wanted_, new_;
  std::map<Thumb, Made> made_;
  std::uint64_t bytes_ = 0;
  std::thread thread_;  // last
};

}  // namespace samelight::job
