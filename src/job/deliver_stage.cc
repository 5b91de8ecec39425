// Full-size files out, one frame per worker, each whole or not there.
#include <mutex>
#include <set>

#include <fmt/format.h>

#include "base/setting.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "codec/write.h"
#include "job/digest.h"
#include "job/grain_stage.h"
#include "job/memory_gate.h"
#include "job/names.h"
#include "job/stages.h"
#include "render/render.h"
#include "session/lock.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

using record::Photo;
using session::Stage;

// Raised when rendering or writing would give other files for the same correction and options.
constexpr int kDeliveryVersion = 2;

codec::Format CodecFormat(Format format) {
  switch (format) {
    case Format::kJpeg:
      return codec::Format::kJpeg;
    case Format::kTiff8:
      return codec::Format::kTiff8;
    case Format::kTiff16:
      return codec::Format::kTiff16;
    case Format::kPng:
      return codec::Format::kPng;
  }
  return codec::Format::kJpeg;
}

// One frame to deliver.
struct Parcel {
  const Photo* photo = nullptr;
  const record::FrameSolution* solution = nullptr;
  fs::path file;
  session::Delivery delivery;
};

std::string DigestOf(const Photo& photo, const record::FrameSolution& solution, const DeliverOptions& options,
                     const std::vector<Photo>& grain_scans) {
  record::FrameSolution applied;  // only what decides the pixels
  applied.correction = solution.correction;
  const session::Bytes bytes = session::Pack(applied);
  Digest digest;
  for (const Photo& scan : grain_scans) digest.Add(scan.hash);
  return digest.Add(kDeliveryVersion)
      .Add(photo.hash)
      .Add(std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()))
      .Add(static_cast<int>(options.format))
      .Add(options.format == Format::kJpeg ? options.quality : 0)
      .Hex();
}

// The output folder: made if needed; never one that originals lie in.
Status PrepareFolder(const fs::path& out, const session::Session& session, const std::vector<Photo>& photos) {
  std::error_code ec;
  fs::create_directories(out, ec);
  if (ec || !fs::is_directory(out, ec))
    return Error{ErrorCode::kPermission, "the output folder could not be made", out.string(),
                 "check the name and the rights, and that the disk is not full"};
  const fs::path folder = fs::canonical(out, ec);
  std::set<fs::path> originals;
  for (const Photo& photo : photos) originals.insert(session.Absolute(photo.path).parent_path());
  if (originals.contains(folder))
    return Error{ErrorCode::kInvalidArgument, "originals lie in the output folder", out.string(),
                 "name another folder, so that no original can be written over"};
  return {};
}

// Half-written files of a run that was killed: ".<output>.XXXXXX" (base/file.h).
void RemoveLeftOvers(const fs::path& out, const std::vector<Parcel>& parcels) {
  std::set<std::string> ours;
  for (const Parcel& parcel : parcels) ours.insert("." + parcel.file.filename().string() + ".");
  std::error_code ec;
  for (const auto& entry : fs::directory_iterator(out, ec)) {
    const std::string name = entry.path().filename().string();
    if (name.size() > 6 && ours.contains(name.substr(0, name.size() - 6))) fs::remove(entry.path(), ec);
  }
}

class Delivering {
 public:
  Delivering(session::Session& session, const DeliverOptions& options, const Work& work)
      : session_(session), options_(options), work_(work), gate_(BudgetBytes(options.memory_mib)) {}

  void UseGrain(record::GrainModel model) {
    grain_.on = true;
    grain_.model = std::move(model);
  }

  void One(const Parcel& parcel) {
    if (full_) return;  // told once, by the frame that met it
    Status done = Write(parcel);
    if (done.ok()) return Keep(parcel);
    if (done.error().code == ErrorCode::kCancelled) return;
    const std::lock_guard lock(mutex_);
    if (done.error().code == ErrorCode::kNoSpace) full_ = true;
    Fail(done.error());
  }

  void Fail(const Error& error) { problems_.push_back(SetAside(Stage::kDeliver, "not delivered", error)); }

  bool full() const { return full_; }
  int written() const { return written_; }
  const std::optional<Error>& stop() const { return stop_; }
  const std::vector<session::Problem>& problems() const { return problems_; }

 private:
  Status Write(const Parcel& parcel) {
    const Photo& photo = *parcel.photo;
    const fs::path file = session_.Absolute(photo.path);
    const MemoryGate::Admission admitted = gate_.Admit(WorkingBytes(photo, true), work_.cancel);
    if (!admitted) return Stopped();
    codec::ReadOptions read;
    read.cancel = work_.cancel;
    Result<codec::Picture> picture = codec::ReadPicture(file, read);
    if (!picture.ok()) return picture.error();
    if (picture->photo.hash != photo.hash)
      return Error{ErrorCode::kDamaged, "the file was changed after its correction was solved", file.string(),
                   "take stock with `samelight new`, then match again"};
    render::RenderOptions render;
    render.cancel = work_.cancel;
    render.grain = grain_;
    render.grain.seed = GrainSeed(photo);
    PutTouch(parcel.solution->correction.touch, render);
    codec::WriteOptions write;
    write.format = CodecFormat(options_.format);
    write.quality = options_.quality;
    write.metadata_from = file;
    if (options_.format == Format::kTiff16) {
      Result<image::RgbU16> pixels = render::Render16(picture->pixels, parcel.solution->correction, render);
      if (!pixels.ok()) return pixels.error();
      picture->pixels = {};
      if (work_.cancel.requested()) return Stopped();
      return codec::WritePicture(parcel.file, *pixels, write);
    }
    Result<image::RgbU8> pixels = render::Render8(picture->pixels, parcel.solution->correction, render);
    if (!pixels.ok()) return pixels.error();
    picture->pixels = {};
    if (work_.cancel.requested()) return Stopped();
    return codec::WritePicture(parcel.file, *pixels, write);
  }

  void Keep(const Parcel& parcel) {
    const std::lock_guard lock(mutex_);
    session::Delivery delivery = parcel.delivery;
    delivery.done = true;
    Result<session::Change> change = session_.Begin();
    Status kept = change.ok() ? change->Put(delivery) : Status(change.error());
    if (kept.ok()) kept = change->Commit();
    if (!kept.ok() && !stop_) stop_ = kept.error();
    ++written_;
  }

  session::Session& session_;
  const DeliverOptions& options_;
  const Work& work_;
  MemoryGate gate_;
  render::Grain grain_;
  std::mutex mutex_;
  std::atomic<bool> full_ = false;
  int written_ = 0;
  std::optional<Error> stop_;
  std::vector<session::Problem> problems_;
};

}  // namespace

Result<DeliverAnswer> DeliverAll(session::Session& session, const fs::path& out,
                                 const DeliverOptions& options, const Work& work) {
  Status quality = CheckSetting("quality", options.quality);
  if (!quality.ok()) return quality.error();
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<session::MatchResult> match = session.Match();
  if (!match.ok()) return match.error();
  Result<std::vector<session::Delivery>> earlier = session.Deliveries();
  if (!earlier.ok()) return earlier.error();
  Status prepared = PrepareFolder(out, session, *photos);
  if (!prepared.ok()) return prepared.error();
  std::error_code ec;
  const fs::path folder = fs::canonical(out, ec);
  Result<std::unique_ptr<session::Lock>> lock =
      session::Lock::Take(folder / ".samelight-deliver.lock", "the output folder " + out.string());
  if (!lock.ok()) return lock.error();

  std::unordered_map<PhotoId, const record::FrameSolution*> solution_of;
  for (const record::FrameSolution& solution : match->frames) solution_of[solution.frame] = &solution;
  std::unordered_map<std::string, const session::Delivery*> ours;
  for (const session::Delivery& delivery : *earlier) ours[delivery.output] = &delivery;
  std::vector<Photo> frames;
  for (const Photo& photo : *photos)
    if (photo.role == record::Role::kFrame) frames.push_back(photo);
  const std::unordered_map<PhotoId, std::string> stems = OutputStems(frames);

  Delivering delivering(session, options, work);
  DeliverAnswer answer;
  answer.out = out;
  std::vector<Photo> grain_scans;
  if (options.grain) {
    Result<std::vector<Photo>> scans = GrainScans(session);
    if (!scans.ok()) return scans.error();
    grain_scans = std::move(scans).value();
  }
  std::vector<Parcel> parcels;
  for (const Photo& photo : frames) {
    const auto solution = solution_of.find(photo.id);
    if (solution == solution_of.end()) continue;  // set aside earlier, with its own problem
    if (!options.only.empty() &&
        std::find(options.only.begin(), options.only.end(), photo.id) == options.only.end())
      continue;
    ++answer.frames;
    Parcel parcel{&photo, solution->second};
    parcel.file = folder / (stems.at(photo.id) + codec::Ending(CodecFormat(options.format)));
    parcel.delivery = {session.Relative(parcel.file), photo.id, options.order,
                       DigestOf(photo, *solution->second, options, grain_scans), false};
    const auto it = ours.find(parcel.delivery.output);
    const bool there = fs::exists(parcel.file, ec);
    if (there && !options.again) {
      if (it == ours.end()) {
        delivering.Fail({ErrorCode::kInvalidArgument,
                         "a file of this name is there already, and is not from this session",
                         parcel.file.string(), "name another folder, or write over it with --again"});
        continue;
      }
      if (it->second->done && it->second->digest == parcel.delivery.digest) {
        ++answer.kept;
        continue;
      }
    }
    parcels.push_back(std::move(parcel));
  }
  // Said before it is done: a file that a killed run leaves is known to be ours.
  if (!parcels.empty()) {
    Result<session::Change> change = session.Begin();
    if (!change.ok()) return change.error();
    Status put;
    for (std::size_t i = 0; put.ok() && i < parcels.size(); ++i) put = change->Put(parcels[i].delivery);
    if (put.ok()) put = change->Commit();
    if (!put.ok()) return put.error();
    RemoveLeftOvers(folder, parcels);
  }

  if (!parcels.empty() && !grain_scans.empty()) {
    Result<record::GrainModel> grain = MeasureGrain(session, grain_scans, options.memory_mib, work);
    if (grain.ok())
      delivering.UseGrain(std::move(grain).value());
    else if (grain.error().code == ErrorCode::kCancelled)
      return grain.error();
    else
      answer.notes.push_back("the frames are delivered without grain: " + grain.error().what);
  }
  work.progress.Begin("delivering", static_cast<long>(parcels.size()));
  const bool all = ParallelFor(parcels.size(), work.cancel, [&](std::size_t i) {
    delivering.One(parcels[i]);
    work.progress.Advance(1);
  });
  work.progress.End();
  if (!all) return Stopped();
  if (delivering.stop()) return *delivering.stop();
  answer.written = delivering.written();
  if (delivering.full())
    delivering.Fail({ErrorCode::kNoSpace,
                     fmt::format("the disk is full; {} of {} frames are delivered",
                                 answer.written + answer.kept, answer.frames),
                     out.string(), "free some space, then run the same command again; it goes on from here"});
  Result<session::Change> change = session.Begin();
  if (!change.ok()) return change.error();
  Status put = change->ReplaceProblems(Stage::kDeliver, delivering.problems());
  if (put.ok()) put = change->Commit();
  if (!put.ok()) return put.error();
  answer.problems = Told(delivering.problems());
  return answer;
}

}  // namespace samelight::job
