#include "job/pictures.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <map>
#include <mutex>

#include "codec/monitor.h"
#include "job/memory_gate.h"
#include "job/picture_grain.h"
#include "job/picture_sources.h"
#include "job/picture_thumbs.h"
#include "preview/corrected.h"
#include "preview/lane.h"
#include "preview/sample.h"
#include "preview/screen.h"
#include "solve/region_samples.h"

namespace samelight::job {
namespace {

// Decoded pictures kept for going back and forth; a full one of 24 MP takes 290 MB.
constexpr std::uint64_t kMostBytes = 1ull << 30;
// Sizes of decoding, so that a little zoom does not decode again.
constexpr int kScreenLongSide = 2048;
// What the meter's lane does.
constexpr int kFilmKey = 0, kProofKey = 1;

}  // namespace

class Pictures::Impl {
 public:
  explicit Impl(Wake wake)
      : wake_(std::move(wake)),
        sources_(std::min(kMostBytes, BudgetBytes(0))),
        thumbs_([this] { wake_(); }),
        draw_(preview::Order::kOldestFirst),
        decode_(preview::Order::kNewestFirst),
        meter_(preview::Order::kOldestFirst) {}
  ~Impl() {
    // They ask one another for work: none is taken any more while the last of it runs out.
    for (preview::Lane* lane : {&meter_, &decode_, &draw_}) lane->Close();
  }

  void SetBook(std::shared_ptr<const Book> book) {
    const bool other = [&] {
      const std::lock_guard lock(mutex_);
      const bool differs = (book_ == nullptr) != (book == nullptr) || (book_ && book_->file != book->file);
      const bool same_film = !differs && (book == nullptr || SameFilm(*book_, *book));
      book_ = book;
      if (!same_film) {
        film_ = nullptr;
        film_tried_ = false;
      }
      // Files may have come back with what was done since.
      unreadable_.clear();
      return differs;
    }();
    if (other) {
      for (preview::Lane* lane : {&meter_, &decode_, &draw_}) lane->DropAll();
      sources_.Clear();
    }
    thumbs_.SetBook(std::move(book));
  }

  Status SetMonitor(const std::vector<std::uint8_t>& icc) {
    Result<preview::Monitor> monitor = preview::MonitorOf(icc);
    if (!monitor.ok()) return monitor.error();
    auto kept = std::make_shared<const preview::Monitor>(std::move(*monitor));
    {
      const std::lock_guard lock(mutex_);
      monitor_ = kept;
      monitor_icc_ = icc;
      ++monitor_version_;
    }
    thumbs_.SetMonitor(kept);
    MakeProof();
    return {};
  }

  Status SetSoftProof(bool on, const std::vector<std::uint8_t>& icc) {
    if (on && !icc.empty())
      if (Status sound = codec::CheckProof(icc); !sound.ok()) return sound;
    proof_ = on;
    {
      const std::lock_guard lock(mutex_);
      proof_icc_ = on ? icc : std::vector<std::uint8_t>();
      proofed_ = nullptr;
      ++monitor_version_;
    }
    MakeProof();
    return {};
  }

  std::uint64_t Ask(const WantedPicture& wanted) {
    const std::uint64_t ticket = ++tickets_;
    {
      const std::lock_guard lock(mutex_);
      asked_[wanted.slot] = {wanted, ticket};
    }
    Redraw(wanted.slot);
    return ticket;
  }
  void Drop(int slot) {
    draw_.Drop(slot);
    const std::lock_guard lock(mutex_);
    asked_.erase(slot);
    std::erase_if(made_, [slot](const MadePicture& m) { return m.slot == slot; });
  }
  std::vector<MadePicture> Poll() {
    const std::lock_guard lock(mutex_);
    return std::exchange(made_, {});
  }

  PictureThumbs& thumbs() { return thumbs_; }

 private:
  struct Asked {
    WantedPicture wanted;
    std::uint64_t ticket = 0;
  };
  // What a place drew last, so that a change of the correction costs the look-up alone. Used on the draw
  // lane.
  struct Place {
    SourcePtr source;
    preview::View view;
    int width = 0, height = 0;
    preview::Sampled sampled;
    preview::Corrected corrected;
    std::uint64_t monitor_version = 0;
  };

  bool Current(int slot, std::uint64_t ticket) {
    const std::lock_guard lock(mutex_);
    const auto it = asked_.find(slot);
    return it != asked_.end() && it->second.ticket == ticket;
  }

  void Hand(MadePicture made) {
    {
      const std::lock_guard lock(mutex_);
      const auto it = asked_.find(made.slot);
      if (it == asked_.end() || it->second.ticket != made.ticket) return;
      std::erase_if(made_, [&](const MadePicture& m) { return m.slot == made.slot; });
      made_.push_back(std::move(made));
    }
    wake_();
  }

  // Whatever the place waits for by then: a later task never stands for an older request.
  void Redraw(int slot) {
    draw_.Post(slot, [this, slot](const Cancel& cancel) { Draw(slot, cancel); });
  }

  void Draw(int slot, const Cancel& cancel) {
    Asked asked;
    std::shared_ptr<const Book> book;
    std::shared_ptr<const preview::Monitor> monitor;
    std::shared_ptr<const FilmTraits> film;
    std::uint64_t monitor_version = 0;
    std::string why;
    {
      const std::lock_guard lock(mutex_);
      const auto it = asked_.find(slot);
      if (it == asked_.end() || book_ == nullptr) return;
      asked = it->second;
      book = book_;
      monitor = proofed_ != nullptr ? proofed_ : monitor_;
      film = film_;
      monitor_version = monitor_version_;
      if (const auto fault = unreadable_.find(asked.wanted.photo); fault != unreadable_.end())
        why = fault->second;
    }
    const WantedPicture& wanted = asked.wanted;
    const std::uint64_t ticket = asked.ticket;
    MadePicture made{slot, ticket, wanted.photo};
    made.why = why;
    const ScanRow* scan = book->Scan(wanted.photo);
    const FrameRow* frame = book->Frame(wanted.photo);
    if ((scan == nullptr && frame == nullptr) || wanted.width_px <= 0 || wanted.height_px <= 0) {
      made.why = "this photograph is not in the session";
      return Hand(std::move(made));
    }
    const record::Photo& photo = scan != nullptr ? scan->photo : frame->photo;
    Result<SourcePtr> source = sources_.AtHand(*book, photo);
    const int needed = NeededLongSide(photo, wanted);
    if (!source.ok()) {
      if (!why.empty()) return Hand(std::move(made));
      // Not measured, or the cache was deleted: the file itself.
      DecodeThenDraw(book, photo, needed, slot, ticket);
      return;
    }
    const bool full_wanted = wanted.grain && wanted.view.zoom >= 1 && frame != nullptr;
    // Grain is made on the file itself, however small it is.
    const bool finer = why.empty() && !(*source)->best && (full_wanted || Fineness(**source) < needed);
    const std::optional<record::Correction> correction = CorrectionFor(*book, frame, wanted);
    if (full_wanted && (*source)->full && correction && wanted.showing == Showing::kCorrected &&
        !wanted.draft) {
      if (film == nullptr && !film_tried_) MeasureFilmThenDraw(book, slot);
      made.final = film != nullptr || film_tried_;
      Status drawn =
          DrawWithGrain(**source, photo, *correction, film.get(), *monitor, wanted, cancel, made.shown);
      if (!drawn.ok()) made.why = drawn.error().Text();
      if (!cancel.requested()) Hand(std::move(made));
      return;
    }
    Place& place = places_[slot];
    if (place.monitor_version != monitor_version) place.corrected.Forget();
    place.monitor_version = monitor_version;
    if (place.source != *source || !Same(place.view, wanted.view) || place.width != wanted.width_px ||
        place.height != wanted.height_px) {
      preview::Sample((*source)->linear, photo.width_px, wanted.view, wanted.width_px, wanted.height_px,
                      place.sampled);
      place.source = *source;
      place.view = wanted.view;
      place.width = wanted.width_px;
      place.height = wanted.height_px;
    }
    if (cancel.requested()) return;
    if (correction)
      place.corrected.Show(place.sampled, *correction, *monitor, wanted.draft, wanted.marks, made.shown);
    else
      preview::ShowDisplay(place.sampled, *monitor, proof_, wanted.marks, made.shown);
    if (cancel.requested()) return;
    made.final = !finer;
    Hand(std::move(made));
    if (finer) DecodeThenDraw(book, photo, needed, slot, ticket);
  }

  // How a frame is to be shown; none for what is shown as it is.
  static std::optional<record::Correction> CorrectionFor(const Book& book, const FrameRow* frame,
                                                         const WantedPicture& wanted) {
    if (frame == nullptr) return std::nullopt;
    if (wanted.showing == Showing::kCorrected) {
      if (wanted.correction) return wanted.correction;
      if (frame->solved) return frame->solution.correction;
    }
    if (frame->photo.encoding != record::Encoding::kRaw) return std::nullopt;
    return solve::CameraRendering(frame->photo, book.Level(frame->photo.id));
  }

  static bool Same(const preview::View& a, const preview::View& b) {
    return a.centre.x == b.centre.x && a.centre.y == b.centre.y && a.zoom == b.zoom &&
           a.angle_deg == b.angle_deg && a.mirrored == b.mirrored;
  }
  static int Fineness(const Source& source) {
    return std::max(source.linear.width(), source.linear.height());
  }

  // Long side, px, of a picture that has a pixel for each of the view's.
  static int NeededLongSide(const record::Photo& photo, const WantedPicture& wanted) {
    const double zoom = wanted.view.zoom > 0 ? wanted.view.zoom : 1.0;
    return static_cast<int>(std::ceil(std::max(photo.width_px, photo.height_px) * std::min(1.0, zoom)));
  }

  void DecodeThenDraw(const std::shared_ptr<const Book>& book, const record::Photo& photo, int needed,
                      int slot, std::uint64_t ticket) {
    decode_.Post(slot, [this, book, photo, needed, slot, ticket](const Cancel& cancel) {
      if (!Current(slot, ticket)) return;
      Result<SourcePtr> decoded =
          sources_.Decoded(*book, photo, needed <= kScreenLongSide ? kScreenLongSide : 0, cancel);
      if (cancel.requested() || !Current(slot, ticket)) return;
      if (!decoded.ok()) {
        const std::lock_guard lock(mutex_);
        unreadable_[photo.id] = decoded.error().Text();  // what is at hand is all there is
      }
      Redraw(slot);
    });
  }

  // The monitor by way of the proof's space, if there is one; then all is drawn anew.
  void MakeProof() {
    std::uint64_t version = 0;
    std::vector<std::uint8_t> monitor, proof;
    {
      const std::lock_guard lock(mutex_);
      if (proof_icc_.empty()) return;
      version = monitor_version_;
      monitor = monitor_icc_;
      proof = proof_icc_;
    }
    meter_.Post(kProofKey, [this, version, monitor, proof](const Cancel&) {
      Result<preview::Monitor> made = preview::ProofOn(monitor, proof);
      std::vector<int> slots;
      {
        const std::lock_guard lock(mutex_);
        if (!made.ok() || version != monitor_version_) return;
        proofed_ = std::make_shared<const preview::Monitor>(std::move(*made));
        ++monitor_version_;
        for (const auto& [slot, asked] : asked_) slots.push_back(slot);
      }
      for (const int slot : slots) Redraw(slot);
    });
  }

  void MeasureFilmThenDraw(const std::shared_ptr<const Book>& book, int slot) {
    meter_.PostOnce(kFilmKey, [this, book, slot](const Cancel& cancel) {
      Result<FilmTraits> film = FilmOfBook(*book, cancel);
      if (cancel.requested()) return;
      {
        const std::lock_guard lock(mutex_);
        if (book_ != nullptr && SameFilm(*book_, *book)) {  // else it is asked for anew
          if (film.ok()) film_ = std::make_shared<const FilmTraits>(std::move(*film));
          film_tried_ = true;
        }
      }
      Redraw(slot);
    });
  }

  const Wake wake_;
  PictureSources sources_;
  PictureThumbs thumbs_;
  std::atomic<bool> proof_ = false, film_tried_ = false;
  std::atomic<std::uint64_t> tickets_ = 0;
  std::mutex mutex_;  // guards what follows up to `made_`
  std::shared_ptr<const Book> book_;
  std::shared_ptr<const preview::Monitor> monitor_ = std::make_shared<const preview::Monitor>();
  std::vector<std::uint8_t> monitor_icc_, proof_icc_;
  std::shared_ptr<const preview::Monitor> proofed_;  // by way of the proof's space, once it is made
  std::uint64_t monitor_version_ = 0;
  std::shared_ptr<const FilmTraits> film_;
  std::map<PhotoId, std::string> unreadable_;  // why a file could not be decoded
  std::map<int, Asked> asked_;
  std::vector<MadePicture> made_;
  std::map<int, Place> places_;          // draw lane only
  preview::Lane draw_, decode_, meter_;  // last: their threads use all of the above
};

Pictures::Pictures(Wake wake) : impl_(std::make_unique<Impl>(std::move(wake))) {}
Pictures::~Pictures() = default;
void Pictures::SetBook(std::shared_ptr<const Book> book) { impl_->SetBook(std::move(book)); }
Status Pictures::SetMonitor(const std::vector<std::uint8_t>& icc) { return impl_->SetMonitor(icc); }
Status Pictures::SetSoftProof(bool on, const std::vector<std::uint8_t>& icc) {
  return impl_->SetSoftProof(on, icc);
}
std::uint64_t Pictures::Ask(const WantedPicture& wanted) { return impl_->Ask(wanted); }
void Pictures::Drop(int slot) { impl_->Drop(slot); }
std::vector<MadePicture> Pictures::Poll() { return impl_->Poll(); }
void Pictures::WantThumbnails(std::vector<Thumb> wanted) { impl_->thumbs().Want(std::move(wanted)); }
std::shared_ptr<const preview::Shown> Pictures::Thumbnail(const Thumb& thumb) const {
  return impl_->thumbs().Get(thumb);
}
std::vector<Pictures::Thumb> Pictures::NewThumbnails() { return impl_->thumbs().New(); }

}  // namespace samelight::job
