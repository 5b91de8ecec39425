// Decoding every photograph once, at proxy size, and keeping what it says.
#include <mutex>

#include "base/file.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "codec/write.h"
#include "image/resize.h"
#include "job/assets.h"
#include "job/memory_gate.h"
#include "job/stages.h"
#include "measure/descriptors.h"
#include "measure/measure.h"

namespace samelight::job {
namespace {

using record::Photo;

constexpr int kProxyLongSide = 2048;
// Proxies are looked at, never measured: visibly clean at moderate size (common practice).
constexpr int kProxyQuality = 88;

// Face finders, one for each worker at a time.
class FaceFinders {
 public:
  class Loan {
   public:
    Loan(FaceFinders& owner, std::unique_ptr<measure::FaceFinder> finder)
        : owner_(owner), finder_(std::move(finder)) {}
    Loan(const Loan&) = delete;
    Loan& operator=(const Loan&) = delete;
    ~Loan() {
      if (!finder_) return;
      const std::lock_guard lock(owner_.mutex_);
      owner_.free_.push_back(std::move(finder_));
    }
    // nullptr when no detector could be opened: the rest is measured all the same.
    measure::FaceFinder* get() const { return finder_.get(); }

   private:
    FaceFinders& owner_;
    std::unique_ptr<measure::FaceFinder> finder_;
  };
  Loan Take() {
    {
      const std::lock_guard lock(mutex_);
      if (!free_.empty()) {
        auto finder = std::move(free_.back());
        free_.pop_back();
        return {*this, std::move(finder)};
      }
    }
    const fs::path assets = AssetsFolder();
    auto opened =
        measure::FaceFinder::Open(assets.empty() ? fs::path() : assets / "models" / "blazeface.onnx");
    return {*this, opened.ok() ? std::move(opened).value() : nullptr};
  }

 private:
  std::mutex mutex_;
  std::vector<std::unique_ptr<measure::FaceFinder>> free_;
};

struct Measuring {
  session::Session& session;
  const Work& work;
  MemoryGate gate;
  FaceFinders finders{};
  std::mutex store{};  // guards the session and all below
  MeasureAnswer answer{};
  std::vector<session::Problem> problems{};
  std::optional<Error> stop{};  // the session itself failed

  void Fail(const Error& error) {
    if (error.code == ErrorCode::kCancelled) return;
    const std::lock_guard lock(store);
    problems.push_back(SetAside(session::Stage::kMeasure, "set aside", error));
  }

  void Keep(Photo& photo, measure::Cached cached) {
    const std::lock_guard lock(store);
    Result<session::Change> change = session.Begin();
    Status kept = change.ok() ? change->Put(photo) : Status(change.error());
    if (kept.ok()) kept = change->PutMeasured(photo.id, {photo.hash, cached.measured});
    if (kept.ok()) kept = change->Commit();
    if (!kept.ok() && !stop) stop = kept.error();
    ++answer.measured;
    cached.analysis = {};
    answer.facts[photo.id] = std::move(cached);
  }

  // From the cache, when the file is as it was.
  bool Known(const Photo& photo) {
    if (photo.hash.empty()) return false;
    Result<measure::Cached> cached = measure::ReadCachedFacts(AnalysisFile(session, photo));
    if (!cached.ok()) return false;
    const std::lock_guard lock(store);
    answer.facts[photo.id] = std::move(cached).value();
    return true;
  }

  void One(Photo photo) {
    const fs::path file = session.Absolute(photo.path);
    codec::ReadOptions options;
    options.at_least_long_side_px = kProxyLongSide;
    options.correct_lens = photo.role == record::Role::kFrame;
    options.cancel = work.cancel;
    const MemoryGate::Admission admitted = gate.Admit(WorkingBytes(photo, options), work.cancel);
    if (!admitted) return;
    Result<codec::Picture> picture = codec::ReadPicture(file, options);
    if (!picture.ok()) return Fail(picture.error());

    // The decoder knows the file best; who and where it is, we know.
    Photo facts = std::move(picture->photo);
    facts.id = photo.id;
    facts.role = photo.role;
    facts.path = photo.path;
    facts.bytes = photo.bytes;
    facts.modified_us = photo.modified_us;
    facts.roll = photo.roll;
    facts.roll_position = photo.roll_position;
    if (photo.width_px > 0) {
      facts.width_px = photo.width_px;
      facts.height_px = photo.height_px;
    }
    const image::RgbF linear = image::ShrinkTo(picture->pixels, kProxyLongSide);
    const bool scene_referred = picture->scene_referred;
    picture->pixels = {};

    measure::Cached cached;
    {
      const FaceFinders::Loan faces = finders.Take();
      Result<measure::MeasuredPicture> measured = measure::MeasurePicture(linear, facts, faces.get());
      if (!measured.ok()) return Fail(measured.error());
      cached.measured = std::move(measured->measured);
      cached.analysis = std::move(measured->analysis);
    }
    if (work.cancel.requested()) return;
    cached.features = measure::ExtractFeatures(cached.analysis);
    Result<std::vector<std::uint8_t>> proxy =
        codec::EncodeJpeg(measure::NeutralRendering(linear, scene_referred), kProxyQuality);
    Status written = proxy.ok() ? WriteFileWhole(ProxyFile(session, facts), *proxy) : Status(proxy.error());
    if (written.ok()) written = measure::WriteCached(AnalysisFile(session, facts), cached);
    if (!written.ok()) return Fail(written.error());
    Keep(facts, std::move(cached));
  }
};

}  // namespace

Result<MeasureAnswer> MeasureAll(session::Session& session, std::uint64_t memory_mib, const Work& work) {
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  std::error_code ec;
  fs::create_directories(session.cache_folder(), ec);
  if (ec)
    return Error{ErrorCode::kPermission, "the folder for proxies could not be made: " + ec.message(),
                 session.cache_folder().string(),
                 "check the rights of the session's folder, and that the disk is not full"};
  Measuring measuring{session, work, MemoryGate(BudgetBytes(memory_mib))};
  work.progress.Begin("reading pictures", static_cast<long>(photos->size()));
  const bool all = ParallelFor(photos->size(), work.cancel, [&](std::size_t i) {
    if (!measuring.Known((*photos)[i])) measuring.One((*photos)[i]);
    work.progress.Advance(1);
  });
  work.progress.End();
  if (!all) return Stopped();
  if (measuring.stop) return *measuring.stop;
  Result<session::Change> change = session.Begin();
  if (!change.ok()) return change.error();
  Status put = change->ReplaceProblems(session::Stage::kMeasure, measuring.problems);
  if (put.ok()) put = change->Commit();
  if (!put.ok()) return put.error();
  measuring.answer.problems = Told(measuring.problems);
  return std::move(measuring.answer);
}

}  // namespace samelight::job
