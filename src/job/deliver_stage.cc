// Full-size files out, one picture per worker, each whole or not there.
#include <algorithm>
#include <atomic>
#include <mutex>
#include <set>

#include <fmt/format.h>

#include "base/file.h"
#include "base/hash.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "codec/write.h"
#include "image/reframe.h"
#include "job/black_and_white.h"
#include "job/film_traits.h"
#include "job/grain_stage.h"
#include "job/memory_gate.h"
#include "job/parcels.h"
#include "job/stages.h"
#include "render/render.h"
#include "session/lock.h"

namespace samelight::job {
namespace {

using record::FileFormat;
using record::Photo;
using session::Stage;

codec::Format CodecFormat(FileFormat format) {
  switch (format) {
    case FileFormat::kJpeg:
      return codec::Format::kJpeg;
    case FileFormat::kTiff8:
      return codec::Format::kTiff8;
    case FileFormat::kTiff16:
      return codec::Format::kTiff16;
    case FileFormat::kPng:
    case FileFormat::kPng16:
      return codec::Format::kPng;
  }
  return codec::Format::kJpeg;
}

color::Space SpaceOf(record::OutputSpace space) {
  switch (space) {
    case record::OutputSpace::kSrgb:
      return color::Space::kSrgb;
    case record::OutputSpace::kDisplayP3:
      return color::Space::kDisplayP3;
    case record::OutputSpace::kAdobeRgb:
      return color::Space::kAdobeRgb;
    case record::OutputSpace::kRec2020:
      return color::Space::kRec2020;
    case record::OutputSpace::kRomm:
      return color::Space::kRomm;
  }
  return color::Space::kSrgb;
}

// The output folder: made if needed.
Result<fs::path> PrepareFolder(const fs::path& out) {
  std::error_code ec;
  if (Status made = MakeFolders(out); !made.ok()) return made.error();
  if (!fs::is_directory(out, ec))
    return Error{ErrorCode::kPermission, "the output folder could not be made", out.string(),
                 "check the name and the rights, and that the disk is connected and not full"};
  return fs::canonical(out, ec);
}

// No file may go where originals lie: one could be written over.
Status CheckFolders(const std::vector<Parcel>& parcels, const session::Session& session,
                    const std::vector<Photo>& photos) {
  std::error_code ec;
  std::set<fs::path> originals;
  for (const Photo& photo : photos)
    originals.insert(fs::weakly_canonical(session.Absolute(photo.path).parent_path(), ec));
  for (const Parcel& parcel : parcels)
    if (originals.contains(fs::weakly_canonical(parcel.file.parent_path(), ec)))
      return Error{ErrorCode::kInvalidArgument, "originals lie in the output folder",
                   parcel.file.parent_path().string(),
                   "name another folder, so that no original can be written over"};
  return {};
}

// What a run that died left aside below `folder`: whole files whose account says so get their names, others
// go.
void FinishEarlier(const session::Session& session, const fs::path& folder,
                   const std::vector<session::Delivery>& earlier) {
  std::error_code ec;
  for (const session::Delivery& delivery : earlier) {
    const fs::path file = session.Absolute(delivery.output);
    const fs::path below = file.lexically_relative(folder);
    if (below.empty() || *below.begin() == ".." || !fs::exists(AsideName(file), ec)) continue;
    if (delivery.done)
      static_cast<void>(Reveal(file));  // what fails here is found missing, and made again
    else
      fs::remove(AsideName(file), ec);
  }
}

// What to tell of pictures that this order delivered under other names before (numbers move when pictures
// come or go); empty: nothing.
std::string MovedNames(const std::vector<Parcel>& parcels, const std::vector<session::Delivery>& earlier,
                       const record::Order& order) {
  std::unordered_map<PhotoId, std::set<fs::path>> before;
  for (const session::Delivery& delivery : earlier)
    if (delivery.done && delivery.order == order.name) before[delivery.frame].insert(delivery.output);
  int moved = 0;
  std::string first;
  for (const Parcel& parcel : parcels) {
    const auto it = before.find(parcel.photo->id);
    const fs::path now(parcel.delivery.output);
    if (it == before.end() || it->second.contains(now)) continue;
    const auto was = std::find_if(it->second.begin(), it->second.end(), [&](const fs::path& each) {
      return each.parent_path() == now.parent_path();  // another folder is another delivery
    });
    if (was != it->second.end() && moved++ == 0)
      first = fmt::format("{} is {} now", was->filename().string(), now.filename().string());
  }
  if (moved == 0) return {};
  return fmt::format(
      "{} of the pictures have other names than in an earlier delivery of this order ({}); files under names "
      "that "
      "no picture has any more are left where they are",
      moved, first);
}

// Large memory that goes from picture to picture: fresh pages cost more than filling them.
struct Buffers {
  codec::Spare read;
  image::RgbF framed;
  image::RgbU8 eight;
  image::RgbU16 sixteen;
  std::uint64_t bytes() const {
    const auto of = [](const auto& picture) {
      return picture.data().capacity() * sizeof *picture.data().data();
    };
    return of(read.linear) + of(read.eight) + of(read.sixteen) + of(framed) + of(eight) + of(sixteen);
  }
};

class Delivering {
 public:
  Delivering(session::Session& session, const record::Order& order, std::uint64_t memory_mib,
             const Work& work)
      : session_(session), order_(order), work_(work), gate_(BudgetBytes(memory_mib)) {}

  void Use(FilmTraits traits, const std::vector<float>& tone) {
    grain_.on = order_.grain && traits.grain.patches > 0;
    grain_.amount = order_.grain_amount;
    grain_.size = order_.grain_size;
    film_ = std::move(traits);
    if (!order_.acutance) film_.acutance.clear();
    tone_ = ToneIn(SpaceOf(order_.space), tone);
  }

  void One(const Parcel& parcel) {
    if (full_) return;  // told once, by the picture that met it
    const Status done = Deliver(parcel);
    if (done.ok() || done.error().code == ErrorCode::kCancelled) return;
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
  Status Deliver(const Parcel& parcel) {
    Buffers buffers = TakeBuffers();
    MemoryGate::Admission admitted = gate_.Admit(BytesFor(parcel), work_.cancel, [this, &buffers] {
      buffers = {};
      const std::lock_guard lock(mutex_);
      idle_.clear();
    });
    if (!admitted) return Stopped();
    Result<std::vector<std::uint8_t>> bytes = parcel.copied ? Copy(parcel) : Make(parcel, buffers);
    // What waits for the next picture has its place in memory.
    admitted.ShrinkTo((bytes.ok() ? bytes->size() : 0) + buffers.bytes());
    if (!bytes.ok()) return bytes.error();
    Status written = WriteAside(parcel.file, *bytes, work_.cancel);
    if (!written.ok()) return written;
    // From here on the file is whole: a run that dies now leaves nothing to be done again (FinishEarlier).
    if (!Keep(parcel, true)) return Stopped();
    written = Reveal(parcel.file);
    if (written.ok())
      ++written_;
    else
      Keep(parcel, false);
    bytes = std::vector<std::uint8_t>();
    GiveBack(std::move(buffers), std::move(admitted));
    return written;
  }

  // In memory at once.
  std::uint64_t BytesFor(const Parcel& parcel) const {
    const Photo& photo = *parcel.photo;
    if (parcel.copied) return photo.bytes;
    const bool whole = record::Whole(parcel.framing);
    return WorkingBytes(photo, ReadingOf(parcel), !whole,
                        whole ? LongSide(order_, photo.width_px, photo.height_px) : 0, Sixteen(), Writing());
  }

  Error Changed(const fs::path& file) const {
    return {ErrorCode::kDamaged, "the file was changed after its correction was solved", file.string(),
            "take stock with `samelight new`, then match again"};
  }

  Result<std::vector<std::uint8_t>> Copy(const Parcel& parcel) const {
    const fs::path file = session_.Absolute(parcel.photo->path);
    Result<std::vector<std::uint8_t>> bytes = ReadFile(file, codec::Limits{}.most_file_bytes, work_.cancel);
    if (!bytes.ok()) return bytes;
    const std::string hash = HashOf(*bytes, work_.cancel);
    if (hash.empty()) return Stopped();
    if (hash != parcel.photo->hash) return Changed(file);
    return bytes;
  }

  // Those that were kept give their place in memory back: the next picture's is asked for with them in it.
  Buffers TakeBuffers() {
    const std::lock_guard lock(mutex_);
    if (idle_.empty()) return {};
    Buffers buffers = std::move(idle_.back().buffers);
    idle_.pop_back();
    return buffers;
  }
  void GiveBack(Buffers buffers, MemoryGate::Admission admitted) {
    admitted.ShrinkTo(buffers.bytes());
    const std::lock_guard lock(mutex_);
    idle_.push_back({std::move(buffers), std::move(admitted)});
  }

  bool Sixteen() const { return order_.format == FileFormat::kTiff16 || order_.format == FileFormat::kPng16; }
  codec::ReadOptions ReadingOf(const Parcel& parcel) const {
    codec::ReadOptions read;
    read.cancel = work_.cancel;
    read.keep_metadata = order_.metadata;
    read.correct_lens = parcel.photo->role == record::Role::kFrame;
    read.keep_samples = record::Whole(parcel.framing);
    return read;
  }
  codec::WriteOptions Writing() const {
    codec::WriteOptions write;
    write.format = CodecFormat(order_.format);
    write.quality = order_.quality;
    write.subsampling = static_cast<codec::Subsampling>(order_.sampling);
    write.space = SpaceOf(order_.space);
    write.dpi = order_.dpi;
    write.strip_place = !order_.place;
    write.copyright = order_.copyright;
    write.cancel = work_.cancel;
    return write;
  }

  Result<std::vector<std::uint8_t>> Make(const Parcel& parcel, Buffers& buffers) const {
    const Photo& photo = *parcel.photo;
    const fs::path file = session_.Absolute(photo.path);
    Result<codec::Picture> picture = codec::ReadPicture(file, ReadingOf(parcel), &buffers.read);
    if (!picture.ok()) return picture.error();
    if (picture->photo.hash != photo.hash) return Changed(file);
    const bool framed = !record::Whole(parcel.framing);
    if (framed) {
      const record::Crop& c = parcel.framing.crop;
      buffers.framed = image::Reframe(
          picture->pixels, {parcel.framing.quarter_turns, c.left, c.top, c.right, c.bottom, c.angle_deg},
          work_.cancel, std::move(buffers.framed));
      std::swap(picture->pixels, buffers.framed);
      if (work_.cancel.requested()) return Stopped();
    }
    const image::Source source = picture->samples.empty() ? image::Source(picture->pixels) : picture->samples;
    render::RenderOptions render;
    render.cancel = work_.cancel;
    render.long_side_px = LongSide(order_, source.width(), source.height());
    render.space = SpaceOf(order_.space);
    render.acutance.gain = order_.sharpening;
    codec::WriteOptions write = Writing();
    write.metadata = picture->metadata;
    record::Correction correction;
    if (parcel.solution != nullptr) {
      correction = parcel.solution->correction;
      render.monochrome.tone = tone_;
      if (const auto known = film_.acutance.find(record::SourceName(photo)); known != film_.acutance.end()) {
        const int whole = std::max(source.width(), source.height());
        const int side = render.long_side_px > 0 ? std::min(render.long_side_px, whole) : whole;
        const double asked = render.acutance.gain;
        render.acutance = render::SharpeningFor(known->second, side);
        render.acutance.gain = std::clamp(render.acutance.gain + asked, -0.9, 2.0);
      }
      render.grain = grain_;
      render.grain.model = film_.GrainOf(photo.id);
      render.grain.seed = GrainSeed(photo);
      PutTouch(correction.touch, render);
    }
    const bool as_it_is = parcel.solution == nullptr;
    Result<std::vector<std::uint8_t>> bytes =
        Sixteen() ? Encoded(source, correction, as_it_is, render, write, buffers.sixteen)
                  : Encoded(source, correction, as_it_is, render, write, buffers.eight);
    if (framed) std::swap(picture->pixels, buffers.framed);  // the larger one is for decoding
    buffers.read.Take(std::move(*picture));
    return bytes;
  }

  template <class Pixels>
  static Result<std::vector<std::uint8_t>> Encoded(const image::Source& picture,
                                                   const record::Correction& correction, bool as_it_is,
                                                   const render::RenderOptions& render,
                                                   const codec::WriteOptions& write, Pixels& pixels) {
    const Status rendered = as_it_is ? render::RenderAsItIs(picture, render, pixels)
                                     : render::Render(picture, correction, render, pixels);
    if (!rendered.ok()) return rendered.error();
    return codec::EncodePicture(pixels, write);
  }

  // False: the session could not keep it, so the whole run stops.
  bool Keep(const Parcel& parcel, bool done) {
    const std::lock_guard lock(mutex_);
    session::Delivery delivery = parcel.delivery;
    delivery.done = done;
    Result<session::Change> change = session_.Begin();
    Status kept = change.ok() ? change->Put(delivery) : Status(change.error());
    if (kept.ok()) kept = change->Commit();
    if (!kept.ok() && !stop_) stop_ = kept.error();
    return kept.ok();
  }

  session::Session& session_;
  const record::Order& order_;
  const Work& work_;
  MemoryGate gate_;
  render::Grain grain_;  // without its model
  FilmTraits film_;
  std::vector<float> tone_;
  std::mutex mutex_;
  struct Idle {
    Buffers buffers;
    MemoryGate::Admission admitted;
  };
  std::vector<Idle> idle_;  // behind the gate
  std::atomic<bool> full_ = false;
  std::atomic<int> written_ = 0;
  std::optional<Error> stop_;
  std::vector<session::Problem> problems_;
};

}  // namespace

Result<DeliverAnswer> DeliverAll(session::Session& session, const fs::path& out, const record::Order& order,
                                 const DeliverOptions& options, std::vector<session::Problem>& problems,
                                 const Work& work) {
  Result<fs::path> folder = PrepareFolder(out);
  if (!folder.ok()) return folder.error();
  Result<std::unique_ptr<session::Lock>> lock =
      session::Lock::Take(*folder / ".samelight-deliver.lock", "the output folder " + out.string());
  if (!lock.ok()) return lock.error();
  Result<Goods> goods = GoodsOf(session);
  if (!goods.ok()) return goods.error();
  FinishEarlier(session, *folder, goods->earlier);

  DeliverAnswer answer;
  answer.out = out;
  Delivering delivering(session, order, options.memory_mib, work);
  Result<TraitPlan> plan = PlanTraits(session, *goods, order);
  if (!plan.ok()) return plan.error();
  answer.notes = plan->notes;
  std::vector<Parcel> all = Parcels(session, *goods, order, *folder, plan->digest), parcels;
  if (Status apart = CheckFolders(all, session, goods->photos); !apart.ok()) return apart.error();

  std::unordered_map<std::string, const session::Delivery*> ours;
  for (const session::Delivery& delivery : goods->earlier) ours[delivery.output] = &delivery;
  const std::string moved = MovedNames(all, goods->earlier, order);
  if (!moved.empty()) answer.notes.push_back(moved);
  const auto approved = goods->standing.approved.find(order.name);
  int unchanged = 0;
  std::error_code ec;
  for (Parcel& parcel : all) {
    if (!options.only.empty() &&
        std::find(options.only.begin(), options.only.end(), parcel.photo->id) == options.only.end())
      continue;
    if (options.changed && approved != goods->standing.approved.end()) {
      const auto known = approved->second.find(parcel.photo->id);
      if (known != approved->second.end() && known->second == parcel.delivery.digest) {
        ++unchanged;
        continue;
      }
    }
    ++(parcel.solution != nullptr ? answer.frames : answer.scans);
    const auto it = ours.find(parcel.delivery.output);
    if (fs::exists(parcel.file, ec) && !options.again) {
      if (it == ours.end()) {
        delivering.Fail({ErrorCode::kInvalidArgument,
                         "a file of this name is there already, and is not from this session",
                         parcel.file.string(), "name another folder, or write over it with --again"});
        continue;
      }
      if (it->second->done && it->second->order != order.name) {
        delivering.Fail(
            {ErrorCode::kInvalidArgument,
             fmt::format("a file of this name is there already, of the order '{}'", it->second->order),
             parcel.file.string(), "name another folder or other names, or write over it with --again"});
        continue;
      }
      if (it->second->done && it->second->digest == parcel.delivery.digest) {
        ++answer.kept;
        continue;
      }
    }
    parcels.push_back(std::move(parcel));
  }
  if (unchanged > 0) answer.notes.push_back(fmt::format("{} as approved, and left out", unchanged));
  // Said before it is done: a file that a killed run leaves is known to be ours.
  if (!parcels.empty()) {
    std::set<fs::path> folders;
    for (const Parcel& parcel : parcels) folders.insert(parcel.file.parent_path());
    for (const fs::path& each : folders) static_cast<void>(MakeFolders(each));  // the file tells what fails
    Result<session::Change> change = session.Begin();
    if (!change.ok()) return change.error();
    Status put;
    for (std::size_t i = 0; put.ok() && i < parcels.size(); ++i) put = change->Put(parcels[i].delivery);
    if (put.ok()) put = change->Commit();
    if (!put.ok()) return put.error();
  }

  const bool makes =
      std::any_of(parcels.begin(), parcels.end(), [](const Parcel& p) { return p.solution != nullptr; });
  if (makes) {
    Result<FilmTraits> traits = MeasureTraits(session, *goods, *plan, options.memory_mib, work);
    if (!traits.ok()) return traits.error();
    if (order.grain && !traits->no_grain.empty())
      answer.notes.push_back("the frames are delivered without grain: " + traits->no_grain);
    delivering.Use(std::move(traits).value(), plan->tone);
  }
  work.progress.Begin("delivering", static_cast<long>(parcels.size()));
  const bool finished = ParallelFor(parcels.size(), work.cancel, [&](std::size_t i) {
    delivering.One(parcels[i]);
    work.progress.Advance(1);
  });
  work.progress.End();
  if (!finished) return Stopped();
  if (delivering.stop()) return *delivering.stop();
  answer.written = delivering.written();
  if (delivering.full())
    delivering.Fail({ErrorCode::kNoSpace,
                     fmt::format("the disk is full; {} of {} files are delivered",
                                 answer.written + answer.kept, answer.frames + answer.scans),
                     out.string(), "free some space, then run the same command again; it goes on from here"});
  problems.insert(problems.end(), delivering.problems().begin(), delivering.problems().end());
  return answer;
}

}  // namespace samelight::job
