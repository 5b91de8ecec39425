// Pictures of an open session for the window: asked for by what they should show, made in the background,
// handed over when they are done. Latest wins: a new request for a place drops an older one.
//
// Threads: one thread (the interface's) calls; nothing here waits. `wake` is called from other threads
// whenever Poll() has something, and must only pass the word on.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/ids.h"
#include "job/book.h"
#include "preview/align.h"
#include "preview/shown.h"
#include "preview/view.h"
#include "record/correction.h"

namespace samelight::job {

// What a picture shows.
enum class Showing {
  kOriginal,   // a scan as it came; a frame as the camera made it
  kCorrected,  // a frame with a correction: the delivered picture
};

struct WantedPicture {
  int slot = 0;  // the place in the window that waits for it
  PhotoId photo;
  Showing showing = Showing::kOriginal;
  // For kCorrected; absent: as it stands in the book.
  std::optional<record::Correction> correction;
  preview::View view;               // in pixels of the full-size picture (Photo::width_px, height_px)
  int width_px = 0, height_px = 0;  // of the answer, in device pixels
  bool marks = false;               // also Shown::marks
  bool grain = false;  // with the film's grain and acutance, from the full-size file; from zoom 1 (100 %) on
  bool draft = false;  // a drag is on: speed before the last tenth of a colour difference
};

struct MadePicture {
  int slot = 0;
  std::uint64_t ticket = 0;  // what Ask() gave
  PhotoId photo;
  bool final = true;     // false: a softer version; a better one follows
  preview::Shown shown;  // may be empty when the file cannot be read; otherwise as good as the cache allows
  std::string why;       // the file could not be read: a person's sentence
};

class Pictures {
 public:
  using Wake = std::function<void()>;
  explicit Pictures(Wake wake);
  ~Pictures();  // drops what is asked and waits for what is in work
  Pictures(const Pictures&) = delete;
  Pictures& operator=(const Pictures&) = delete;

  // The session to take pictures from; again whenever Desk::book() is another one. nullptr: none.
  void SetBook(std::shared_ptr<const Book> book);
  // Profile of the monitor (ICC); empty: sRGB. kUnsupported or kDamaged when it cannot be used; then nothing
  // changes. Clears what was made.
  Status SetMonitor(const std::vector<std::uint8_t>& icc);
  // Shows what is left of colours where they go: in the delivery space (sRGB), or in that of a profile (ICC,
  // of a print or another space). Its tables are made in the background; then every picture is drawn anew.
  // Errors of codec::CheckProof; then nothing changes.
  Status SetSoftProof(bool on, const std::vector<std::uint8_t>& icc = {});

  std::uint64_t Ask(const WantedPicture& wanted);
  void Drop(int slot);
  std::vector<MadePicture> Poll();

  // --- thumbnails, `kThumbnailHeight` px high
  struct Thumb {
    PhotoId photo;
    Showing showing = Showing::kOriginal;
    auto operator<=>(const Thumb&) const = default;
  };
  // Those wanted now, most urgent first; replaces the list. What is made already stays.
  void WantThumbnails(std::vector<Thumb> wanted);
  // nullptr: not made yet. What is shown for a changed correction is the old one until the new is there.
  std::shared_ptr<const preview::Shown> Thumbnail(const Thumb& thumb) const;
  // Which came since the last call.
  std::vector<Thumb> NewThumbnails();

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};
inline constexpr int kThumbnailHeight = 120;

}  // namespace samelight::job
