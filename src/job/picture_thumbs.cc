#include "job/picture_thumbs.h"

#include <algorithm>
#include <cmath>

#include "base/modest.h"
#include "codec/read.h"
#include "codec/write.h"
#include "image/resize.h"
#include "job/digest.h"
#include "job/picture_sources.h"
#include "measure/cache.h"
#include "measure/measure.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

constexpr int kQuality = 85;                     // common practice for small pictures
constexpr std::uint64_t kMostBytes = 320 << 20;  // of thumbnails in memory: 3,000 and more
constexpr int kThumbVersion = 1;

// The longest of a panorama's thumbnails, in heights.
constexpr int kMostAspect = 4;

int WidthFor(int width, int height) {
  const double aspect = static_cast<double>(width) / std::max(1, height);
  return std::clamp(static_cast<int>(std::lround(kThumbnailHeight * aspect)), 1,
                    kMostAspect * kThumbnailHeight);
}

// What the thumbnail shows; empty: nothing can be shown.
std::string KeyOf(const Book& book, const Pictures::Thumb& thumb) {
  const ScanRow* scan = book.Scan(thumb.photo);
  const FrameRow* frame = scan == nullptr ? book.Frame(thumb.photo) : nullptr;
  if (scan == nullptr && frame == nullptr) return {};
  const record::Photo& photo = scan != nullptr ? scan->photo : frame->photo;
  if (photo.hash.empty()) return {};
  Digest digest;
  digest.Add(kThumbVersion).Add(kThumbnailHeight).Add(photo.hash);
  if (thumb.showing == Showing::kCorrected && frame != nullptr && frame->solved) {
    record::FrameSolution shown;
    shown.correction = frame->solution.correction;
    const session::Bytes bytes = session::Pack(shown);
    digest.Add(std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()));
  }
  return digest.Hex();
}

std::uint64_t BytesOf(const preview::Shown& shown) { return shown.argb.size() * 4 + 200; }

}  // namespace

PictureThumbs::PictureThumbs(std::function<void()> wake)
    : wake_(std::move(wake)), thread_([this] { Work(); }) {}

PictureThumbs::~PictureThumbs() {
  {
    const std::lock_guard lock(mutex_);
    closing_ = true;
    ++turn_;
  }
  come_.notify_all();
  thread_.join();
}

void PictureThumbs::SetBook(std::shared_ptr<const Book> book) {
  const std::lock_guard lock(mutex_);
  if (book == nullptr || book_ == nullptr || book->file != book_->file) {
    made_.clear();
    new_.clear();
    wanted_.clear();
    bytes_ = 0;
    store_ = nullptr;  // opened by the worker
  }
  book_ = std::move(book);
  ++turn_;
  come_.notify_all();
}

void PictureThumbs::SetMonitor(std::shared_ptr<const preview::Monitor> monitor) {
  const std::lock_guard lock(mutex_);
  monitor_ = std::move(monitor);
  made_.clear();
  bytes_ = 0;
  ++turn_;
  come_.notify_all();
}

void PictureThumbs::Want(std::vector<Thumb> wanted) {
  const std::lock_guard lock(mutex_);
  wanted_ = std::move(wanted);
  ++turn_;
  come_.notify_all();
}

std::shared_ptr<const preview::Shown> PictureThumbs::Get(const Thumb& thumb) const {
  const std::lock_guard lock(mutex_);
  const auto it = made_.find(thumb);
  return it == made_.end() ? nullptr : it->second.shown;
}

std::vector<Pictures::Thumb> PictureThumbs::New() {
  const std::lock_guard lock(mutex_);
  return std::exchange(new_, {});
}

// Those that were wanted longest ago go first; what is wanted now stays.
void PictureThumbs::Evict() {
  if (bytes_ <= kMostBytes) return;
  std::vector<std::pair<std::uint64_t, Thumb>> by_age;
  for (const auto& [thumb, made] : made_) by_age.emplace_back(made.used, thumb);
  std::sort(by_age.begin(), by_age.end());
  for (const auto& [used, thumb] : by_age) {
    if (bytes_ <= kMostBytes || used == turn_) return;
    bytes_ -= BytesOf(*made_[thumb].shown);
    made_.erase(thumb);
  }
}

void PictureThumbs::Work() {
  BeModest();  // a window that is drawn comes first
  std::uint64_t seen = 0;
  std::unique_lock lock(mutex_);
  while (true) {
    come_.wait(lock, [&] { return closing_ || turn_ != seen; });
    if (closing_) return;
    const std::uint64_t turn = seen = turn_;
    const std::shared_ptr<const Book> book = book_;
    const std::shared_ptr<const preview::Monitor> monitor = monitor_;
    const std::vector<Thumb> wanted = wanted_;
    if (book == nullptr) continue;
    std::shared_ptr<preview::ThumbStore> store = store_;
    lock.unlock();
    if (store == nullptr) {
      std::error_code ec;
      std::filesystem::create_directories(CacheFolderOf(*book), ec);
      store = std::make_shared<preview::ThumbStore>(CacheFolderOf(*book) / "thumbnails");
    }
    lock.lock();
    if (book_ != nullptr && book_->file == book->file) store_ = store;
    for (const Thumb& thumb : wanted)
      if (const auto it = made_.find(thumb); it != made_.end()) it->second.used = turn;
    for (const Thumb& thumb : wanted) {
      if (closing_ || turn_ != turn) break;  // what is wanted has changed: the new order counts
      lock.unlock();
      const std::string key = KeyOf(*book, thumb);
      lock.lock();
      const auto it = made_.find(thumb);
      if (key.empty() || (it != made_.end() && it->second.key == key)) continue;
      lock.unlock();
      std::shared_ptr<const preview::Shown> shown = Make(*book, thumb, key, *store, *monitor);
      lock.lock();
      if (shown == nullptr || book_ == nullptr || book_->file != book->file || monitor_ != monitor) continue;
      Made& made = made_[thumb];
      if (made.shown != nullptr) bytes_ -= BytesOf(*made.shown);
      bytes_ += BytesOf(*shown);
      made = {key, std::move(shown), turn};
      const bool ring = new_.empty();
      new_.push_back(thumb);
      Evict();
      if (!ring) continue;
      lock.unlock();
      wake_();
      lock.lock();
    }
  }
}

std::shared_ptr<const preview::Shown> PictureThumbs::Make(const Book& book, const Thumb& thumb,
                                                          const std::string& key, preview::ThumbStore& store,
                                                          const preview::Monitor& monitor) {
  auto shown = std::make_shared<preview::Shown>();
  if (const std::vector<std::uint8_t> kept = store.Get(key); !kept.empty()) {
    Result<image::RgbU8> pixels = preview::DecodeThumb(kept);
    if (pixels.ok()) {
      preview::ShowSrgb(*pixels, monitor, *shown);
      return shown;
    }
  }
  const FrameRow* frame = book.Frame(thumb.photo);
  const record::Photo& photo = frame != nullptr ? frame->photo : book.Scan(thumb.photo)->photo;
  const std::filesystem::path cache = CacheFolderOf(book);
  image::RgbU8 srgb;
  if (thumb.showing == Showing::kCorrected && frame != nullptr && frame->solved) {
    Result<measure::Cached> cached = measure::ReadCached(cache / (photo.hash + ".analysis"));
    if (!cached.ok()) return nullptr;
    const image::RgbF& pixels = cached->analysis.pixels;
    preview::Sampled sampled;
    sampled.linear = image::ResizeTo(pixels, WidthFor(pixels.width(), pixels.height()), kThumbnailHeight);
    preview::Shown plain;
    corrected_.Show(sampled, frame->solution.correction, {}, true, false, plain);
    srgb.Resize(plain.width, plain.height);
    for (std::size_t i = 0; i < plain.argb.size(); ++i)
      for (std::size_t c = 0; c < 3; ++c)
        srgb.data()[3 * i + c] = static_cast<std::uint8_t>(plain.argb[i] >> (16 - 8 * c));
  } else {
    codec::ReadOptions options;
    options.at_least_long_side_px = 2 * kThumbnailHeight;
    options.correct_lens = false;
    Result<codec::Picture> proxy = codec::ReadPicture(cache / (photo.hash + ".jpg"), options);
    if (!proxy.ok()) return nullptr;
    const image::RgbF& pixels = proxy->pixels;
    srgb = measure::NeutralRendering(
        image::ResizeTo(pixels, WidthFor(pixels.width(), pixels.height()), kThumbnailHeight), false);
  }
  Result<std::vector<std::uint8_t>> jpeg = codec::EncodeJpeg(srgb, kQuality);
  if (jpeg.ok()) store.Put(key, std::move(*jpeg));
  preview::ShowSrgb(srgb, monitor, *shown);
  return shown;
}

}  // namespace samelight::job
